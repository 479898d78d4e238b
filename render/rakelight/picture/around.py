"""What the lit surfaces send to things that stand among them: housings and the figure.

Such bodies carry no light of their own grid. Their faces are shown in the light that the
room's surfaces reflect toward them, summed over coarse patches, without shadows between:
enough to sit in the room, and no claim about the body. Meshes get the runs' direct light too.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.lit import Lit
from rakelight.scene.surfaces import Room

Floats = NDArray[np.float64]

PATCHES = 24  # along the longer side of a surface


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """Coarse patches of all surfaces.

    Parameters
    ----------
    centres_m, normals : ndarray of float64, shape (k, 3)
        On the mean planes.
    areas_m2 : ndarray of float64, shape (k,)
        Plan area of each.
    exitance_lm_m2 : ndarray of float64, shape (k,)
        Mean reflectance times mean illuminance.
    """

    centres_m: Floats
    normals: Floats
    areas_m2: Floats
    exitance_lm_m2: Floats

    def received_lx(self, point_m: Floats, normal: Floats) -> float:
        """Illuminance of a small face by all patches in front of it.

        Notes
        -----
        E = sum M cos a cos b A / (pi r^2 + A): the factor of a small face to a disc of the
        patch's area seen head-on, which stays finite beside a patch.

        References
        ----------
        .. [1] Wallace, Elmquist and Haines, A Ray Tracing Algorithm for Progressive
           Radiosity, 1989, equation for a disc; from memory.
        """
        away = self.centres_m - point_m
        square = np.maximum((away**2).sum(axis=1), 1e-12)
        distance = np.sqrt(square)
        here = np.maximum(away @ normal, 0) / distance
        there = np.maximum(-(away * self.normals).sum(axis=1), 0) / distance
        factor = here * there * self.areas_m2 / (np.pi * square + self.areas_m2)
        return float((factor * self.exitance_lm_m2).sum())


def patches(room: Room, lit: Lit) -> Patches:
    """Cut every surface into at most 24 x 24 patches, each with its mean illuminance."""
    centres, normals, areas, exitance = [], [], [], []
    for surface in room.surfaces:
        grid = surface.grid
        longer = max(grid.width_m, grid.height_m)
        rows = max(1, min(round(PATCHES * grid.height_m / longer), grid.rows))
        columns = max(1, min(round(PATCHES * grid.width_m / longer), grid.columns))
        lx = lit.total_lx(surface.name)
        tops = np.linspace(0, grid.rows, rows + 1).astype(int)
        lefts = np.linspace(0, grid.columns, columns + 1).astype(int)
        sums = np.add.reduceat(np.add.reduceat(lx, tops[:-1], 0, np.float64), lefts[:-1], 1)
        mean = sums / (np.diff(tops)[:, None] * np.diff(lefts))
        uvn = np.zeros((rows, columns, 3))
        uvn[..., 0] = (np.arange(columns) + 0.5) * grid.width_m / columns
        uvn[..., 1] = ((np.arange(rows) + 0.5) * grid.height_m / rows)[:, None]
        centres.append(surface.frame.to_room(uvn.reshape(-1, 3)))
        normals.append(np.repeat(surface.frame.n[None], rows * columns, axis=0))
        areas.append(np.full(rows * columns, grid.width_m * grid.height_m / (rows * columns)))
        rho = float(surface.reflectance_rgb @ [0.2126, 0.7152, 0.0722])
        exitance.append(rho * mean.reshape(-1))
    return Patches(
        np.concatenate(centres),
        np.concatenate(normals),
        np.concatenate(areas),
        np.concatenate(exitance),
    )
