"""Vertices of plain surfaces that lie inside a neighbouring relief, and what stands for them.

A floor ends at the wall's mean plane, and where the wall's stone stands proud of that plane the
floor's last vertices are inside the stone and dark. The stone hides them, but light is linear
between vertices, so that their darkness would show as a line in front of the stone.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.surfaces import Surface

_SKIN_M = 1e-4


def buried(surface: Surface, others: Sequence[Surface]) -> NDArray[np.bool_] | None:
    """Vertices of a surface that lie behind another's relief, shape (rows, columns); None if none.

    Parameters
    ----------
    surface : Surface
        One without relief.
    others : sequence of Surface
        The room's; those without relief are passed over.
    """
    if surface.relief is not None:
        return None
    grid = surface.grid
    found: NDArray[np.bool_] | None = None
    for other in others:
        relief = other.relief
        if relief is None or other is surface:
            continue
        corner = np.array([[0, 0, 0], [grid.width_m, 0, 0], [0, grid.height_m, 0]])
        origin, right, up = other.frame.from_room(surface.frame.to_room(corner))
        u = np.linspace(0, 1, grid.columns)[None, :, None]
        v = np.linspace(0, 1, grid.rows)[:, None, None]
        at = origin + u * (right - origin) + v * (up - origin)
        n = at[..., 2]
        near = (n < relief.highest_m + _SKIN_M) & (n > relief.backing_m - _SKIN_M)
        own = relief.grid
        x, y = at[..., 0] / own.step_u_m, at[..., 1] / own.step_v_m
        near &= (x > -1e-3) & (x < own.columns - 1 + 1e-3)
        near &= (y > -1e-3) & (y < own.rows - 1 + 1e-3)
        if not near.any():
            continue
        j = np.clip(np.rint(x[near]).astype(np.int64), 0, own.columns - 1)
        i = np.clip(np.rint(y[near]).astype(np.int64), 0, own.rows - 1)
        inside = np.zeros(near.shape, np.bool_)
        inside[near] = (n[near] <= relief.heights_m[i, j] + _SKIN_M) & relief.mask[i, j]
        found = inside if found is None else found | inside
    return found if found is not None and found.any() and not found.all() else None


def uncovered(lx: NDArray[np.float32], hidden: NDArray[np.bool_] | None) -> NDArray[np.float32]:
    """Light with each hidden vertex given its nearest open one's, shape (rows, columns[, k])."""
    if hidden is None:
        return lx
    from scipy.ndimage import distance_transform_edt  # late: slow to load

    nearest = distance_transform_edt(hidden, return_distances=False, return_indices=True)
    out: NDArray[np.float32] = lx[tuple(nearest)]
    return out
