"""What a relief covers of the surfaces that it borders on, and catches in their place.

A floor runs up to the mean plane of a relief wall, but half of the relief stands before that
plane: it covers a strip of the floor some millimetres wide, just where a grazing run is brightest.
The floor's vertices are centimetres apart, so that the strip is lost between two of them: a
side wall lost 3.5 % of its light, and the relief, set to what passes its mean plane, caught 2 %
too little.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: A border lies in a relief's mean plane if it is this near to it. [m]
IN_PLANE_M = 1e-3
#: What is seen of a plain surface rises from what its vertex in the mean plane sees to all,
#: over this many root mean squares of the relief's height (grazed and washed split stone, counted
#: by shadow rays: 1.7 to 2.5).
RISE_RMS = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Border:
    """One border of a plain surface that lies in the mean plane of a relief.

    Parameters
    ----------
    surface, wall : str
        Names of both.
    edge, second, third : tuple
        Indices of the vertices on the border, and of the two lines beside it.
    along_m : ndarray of float64, shape (nodes,)
        Length of border that each vertex stands for; 0 where it is not on the wall. [m]
    step_m, rise_m : float
        Between the lines; width over which the relief covers ever less. [m]
    """

    surface: str
    wall: str
    edge: tuple[int | slice, ...]
    second: tuple[int | slice, ...]
    third: tuple[int | slice, ...]
    along_m: Floats
    step_m: float
    rise_m: float

    def covered(self, direct_lx: Floats32) -> tuple[Floats32, Floats]:
        """What to give the border's vertices, and what the relief takes from the surface.

        Parameters
        ----------
        direct_lx : ndarray of float32, shape (groups, rows, columns)
            At the surface's vertices. [lx]

        Returns
        -------
        ndarray of float32, shape (groups, nodes)
            Illuminance with which the surface's last cells have the right mean. [lx]
        ndarray of float64, shape (groups,)
            Flux. [lm]
        """
        edge = direct_lx[:, *self.edge]
        free = np.maximum(2 * direct_lx[:, *self.second] - direct_lx[:, *self.third], edge)
        missed = np.where(self.along_m > 0, free - edge, np.float32(0))
        mean: Floats32 = np.where(self.along_m > 0, free, edge) - missed * np.float32(
            self.rise_m / self.step_m
        )
        return mean, missed.astype(np.float64) @ self.along_m * (self.rise_m / 2)


def find_borders(surfaces: Sequence[Surface]) -> tuple[Border, ...]:
    """Borders of plain surfaces in mean planes of reliefs, where a cell is wider than they rise.

    A finer mesh finds by itself what is covered.
    """
    out = []
    for wall in surfaces:
        if wall.relief is None:
            continue
        heights = wall.relief.heights_m[wall.relief.mask]
        rise_m = RISE_RMS * float(np.sqrt(np.mean(heights * heights, dtype=np.float64)))
        for surface in surfaces:
            if surface.relief is None and _fills(surface):
                out += _borders_on(surface, wall, rise_m)
    return tuple(out)


def _fills(surface: Surface) -> bool:
    """Whether a surface is the whole rectangle of its grid."""
    u, v = surface.corners_uv_m.T
    return len(surface.corners_uv_m) == 4 and all(
        np.isin(np.round(x, 9), np.round([0.0, most], 9)).all()
        for x, most in ((u, surface.grid.width_m), (v, surface.grid.height_m))
    )


def _borders_on(surface: Surface, wall: Surface, rise_m: float) -> list[Border]:
    grid = surface.grid
    everything = slice(None)
    out = []
    for row, last in ((True, False), (True, True), (False, False), (False, True)):
        step_m, length_m = (grid.step_v_m, grid.width_m) if row else (grid.step_u_m, grid.height_m)
        count, lines = (grid.columns, grid.rows) if row else (grid.rows, grid.columns)
        if lines < 3 or step_m <= rise_m:
            continue
        at = np.zeros((count, 3))
        at[:, 0 if row else 1] = np.linspace(0.0, length_m, count)
        at[:, 1 if row else 0] = (grid.height_m if row else grid.width_m) if last else 0.0
        inward = np.zeros(3)
        inward[1 if row else 0] = -1.0 if last else 1.0
        place = wall.frame.from_room(surface.frame.to_room(at))
        ahead = wall.frame.direction_from_room(
            surface.frame.to_room(inward) - surface.frame.origin_m
        )[2]
        along = np.full(count, length_m / (count - 1))
        along[[0, -1]] /= 2
        on_wall = (
            (np.abs(place[:, 2]) < IN_PLANE_M)
            & (place[:, 0] > -IN_PLANE_M)
            & (place[:, 0] < wall.grid.width_m + IN_PLANE_M)
            & (place[:, 1] > -IN_PLANE_M)
            & (place[:, 1] < wall.grid.height_m + IN_PLANE_M)
        )
        on_wall &= _has_relief(wall, place)  # plain parts cover nothing
        if ahead < 0.5 or not on_wall.any():
            continue
        index = [(-1 - k) if last else k for k in range(3)]
        edge, second, third = ((k, everything) if row else (everything, k) for k in index)
        out.append(
            Border(
                surface.name,
                wall.name,
                edge,
                second,
                third,
                np.where(on_wall, along, 0.0),
                step_m,
                rise_m,
            )
        )
    return out


def _has_relief(wall: Surface, place: Floats) -> NDArray[np.bool_]:
    """Whether the nearest vertex of a wall to each place, shape (places, 3), is on its relief."""
    grid = wall.grid
    assert wall.relief is not None
    column = np.clip(np.rint(place[:, 0] / grid.step_u_m).astype(int), 0, grid.columns - 1)
    row = np.clip(np.rint(place[:, 1] / grid.step_v_m).astype(int), 0, grid.rows - 1)
    out: NDArray[np.bool_] = wall.relief.mask[row, column]
    return out


def past_borders(
    borders: Sequence[Border], direct_lx: Mapping[str, Floats32]
) -> tuple[dict[str, Floats32], dict[str, Floats]]:
    """Direct light of plain surfaces less what reliefs cover, and that flux by relief.

    Parameters
    ----------
    borders : sequence of Border
        From `find_borders`.
    direct_lx : mapping of str to ndarray of float32, shape (groups, rows, columns)
        Of all surfaces. [lx]

    Returns
    -------
    dict of str to ndarray of float32
        Of the surfaces with such a border: with vertices there that make the cells' means right.
    dict of str to ndarray of float64, shape (groups,)
        Flux that each relief catches in front of its mean plane. [lm]
    """
    fields: dict[str, Floats32] = {}
    taken: dict[str, Floats] = {}
    for border in borders:
        whole = direct_lx[border.surface]
        mean, flux = border.covered(whole)
        field = fields.setdefault(border.surface, whole.copy())
        field[:, *border.edge] = mean
        taken[border.wall] = taken.get(border.wall, 0.0) + flux
    return fields, taken
