"""Area that each vertex of a surface's grid stands for, on the one triangulation.

Light is linear over each triangle, so its integral is the sum over vertices of value times
a third of the area of the triangles that meet there.
"""

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.grid import Grid

Floats = NDArray[np.float64]

# sub-points per cell side that decide how much of a cell a slanted border leaves inside
_SUBPOINTS = 4


def vertex_areas(
    grid: Grid, inside: NDArray[np.float64], heights_m: NDArray[np.float32] | None = None
) -> Floats:
    """Area of each vertex: of the plane, or of the relief if heights are given.

    Parameters
    ----------
    grid : Grid
        The surface's vertices.
    inside : ndarray of float64, shape (rows - 1, columns - 1)
        Share of each cell that counts, 0 to 1 (`cells_inside`).
    heights_m : ndarray of float32, shape (rows, columns), optional
        Relief over the mean plane. [m]

    Returns
    -------
    ndarray of float64, shape (rows, columns)
        [m2]
    """
    du, dv = grid.step_u_m, grid.step_v_m
    upper: Floats
    lower: Floats
    if heights_m is None:
        upper = lower = inside * (du * dv / 6)
    else:
        h = heights_m.astype(np.float64)
        a, b, c, d = h[:-1, :-1], h[:-1, 1:], h[1:, 1:], h[1:, :-1]  # counter-clockwise
        # a third of each triangle: |(du, dv, .) x (.)| / 2 with the diagonal a-c
        lower = inside * np.sqrt((du * dv) ** 2 + (dv * (b - a)) ** 2 + (du * (c - b)) ** 2) / 6
        upper = inside * np.sqrt((du * dv) ** 2 + (dv * (c - d)) ** 2 + (du * (d - a)) ** 2) / 6
    out = np.zeros((grid.rows, grid.columns))
    out[:-1, :-1] += lower + upper
    out[1:, 1:] += lower + upper
    out[:-1, 1:] += lower
    out[1:, :-1] += upper
    return out


def cells_inside(
    grid: Grid, corners_uv_m: Floats, mask: NDArray[np.bool_] | None = None
) -> NDArray[np.float64]:
    """Share of each cell inside the polygon and on valid relief.

    Parameters
    ----------
    grid : Grid
        The surface's vertices.
    corners_uv_m : ndarray of float64, shape (k, 2)
        The polygon. [m]
    mask : ndarray of bool, shape (rows, columns), optional
        True where there is relief; a cell counts where all four of its vertices do.

    Returns
    -------
    ndarray of float64, shape (rows - 1, columns - 1)
        0 to 1; for a border that cuts cells, counted on 4 x 4 points in each.
    """
    shape = (grid.rows - 1, grid.columns - 1)
    if _fills_rectangle(grid, corners_uv_m):
        share = np.ones(shape)
    else:
        offsets = (np.arange(_SUBPOINTS) + 0.5) / _SUBPOINTS
        u = ((np.arange(shape[1])[:, None] + offsets) * grid.step_u_m).ravel()
        v = ((np.arange(shape[0])[:, None] + offsets) * grid.step_v_m).ravel()
        hits = inside_polygon(u[None, :], v[:, None], corners_uv_m)
        share = hits.reshape(shape[0], _SUBPOINTS, shape[1], _SUBPOINTS).mean(axis=(1, 3))
    if mask is not None and not mask.all():
        share = share * (mask[:-1, :-1] & mask[:-1, 1:] & mask[1:, 1:] & mask[1:, :-1])
    return share


def inside_polygon(u_m: Floats, v_m: Floats, corners_uv_m: Floats) -> NDArray[np.bool_]:
    """Whether points lie in a polygon, by the even-odd rule. Broadcasts `u_m` with `v_m`."""
    u, v = np.broadcast_arrays(u_m, v_m)
    inside = np.zeros(u.shape, bool)
    for (u0, v0), (u1, v1) in zip(corners_uv_m, np.roll(corners_uv_m, -1, axis=0), strict=True):
        if v0 == v1:
            continue
        crosses = (v0 > v) != (v1 > v)
        inside ^= crosses & (u < u0 + (v - v0) * (u1 - u0) / (v1 - v0))
    return inside


def _fills_rectangle(grid: Grid, corners_uv_m: Floats) -> bool:
    corners = np.asarray(corners_uv_m)
    area = 0.5 * abs(
        float(
            np.sum(
                corners[:, 0] * np.roll(corners[:, 1], -1)
                - np.roll(corners[:, 0], -1) * corners[:, 1]
            )
        )
    )
    return bool(area >= grid.width_m * grid.height_m * (1 - 1e-9))
