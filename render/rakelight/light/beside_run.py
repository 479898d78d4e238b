"""Light on a plane right beside a run, where it changes over less than a step of the grid.

A run that ends at a side wall makes a spot there a few millimetres wide and of half a million
lux. Whether a vertex happens to lie in it says nothing of the wall: such vertices take the mean of
the cell around them, so that the wall receives, and sends back, what the run gives it.
"""

import numpy as np
from numpy.typing import NDArray

from rakelight.light.faces import Shades
from rakelight.light.past_faces import light_plane_points
from rakelight.light.visibility import Nearby, height_over
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Surface

#: Vertices within so many steps of a run's opening. Beyond, what falls off with the distance is
#: met by vertices within 2 %.
STEPS = 2.5
#: But no further, on whatever grid: a meter's readings on a plane below are those of points. [m]
REACH_M = 0.15
#: Places along each side of a cell; an even number, so that none is the vertex itself, which may
#: lie on the run's very end.
PLACES = 8


def even_beside_run(
    surface: Surface,
    line: LitLine,
    shade: Shades,
    near: Nearby | None,
    lit: NDArray[np.float32],
    steps: int,
) -> None:
    """Give vertices of a mean plane beside a run the mean of the cell around them, in place.

    Parameters
    ----------
    surface : Surface
        The plane.
    line : LitLine
        The run.
    shade, near : Shades, Nearby or None
        What may stand in between.
    lit : ndarray of float32, shape (rows, columns)
        Light on the vertices. [lx]
    steps : int
        As for `light_plane_points`.
    """
    where = beside_run(surface, line)
    if where is None or not lit.any():
        return
    grid = surface.grid
    part = (np.arange(PLACES) + 0.5) / PLACES - 0.5
    total = np.zeros(int(where.sum()))
    for u in part * grid.step_u_m:
        for v in part * grid.step_v_m:
            total += light_plane_points(surface, line, shade, near, where, steps, (u, v))
    lit[where] = (total / PLACES**2).astype(np.float32)


def beside_run(surface: Surface, line: LitLine) -> NDArray[np.bool_] | None:
    """Vertices of a mean plane within `STEPS` of a run's lit lengths; None if there are none."""
    grid, frame = surface.grid, surface.frame
    step_m = max(grid.step_u_m, grid.step_v_m)
    reach = min(STEPS * step_m, REACH_M) + line.opening_width_m / 2
    ends = line.origin_m + line.lit_m[[0, -1], [0, 1]][:, None] * line.axis
    over = height_over(surface, ends)
    if np.abs(over).min() > reach and over[0] * over[1] > 0:
        return None
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    places = frame.to_room(np.stack([u, v, np.zeros_like(u)], axis=-1).reshape(-1, 3))
    away = places - line.origin_m
    along = away @ line.axis
    aside = np.linalg.norm(away - along[:, None] * line.axis, axis=1)
    past = np.full(along.shape, np.inf)
    for first, last in line.lit_m:
        past = np.minimum(past, np.maximum(np.maximum(first - along, along - last), 0))
    where: NDArray[np.bool_] = (np.hypot(aside, past) < reach).reshape(u.shape)
    return where if where.any() else None
