"""Means of a surface's vertex light over its patches."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rakelight.light.patches import SPLIT, Cells
from rakelight.light.points import pulled_inside
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: A node this near to a break belongs to neither side. [m]
ON_BREAK_M = 1e-5


def patch_means(surface: Surface, cells: Cells, field: Floats32) -> tuple[Floats32, Floats32]:
    """Means of a vertex field over a surface's cells and over their sub-cells.

    Parameters
    ----------
    surface : Surface
        Whose grid carries the field.
    cells : Cells
        Its patches.
    field : ndarray of float32, shape (rows, columns, bands)
        Bilinear between vertices.

    Returns
    -------
    ndarray of float32, shape (cell rows, cell columns, bands)
        Means over the cells.
    ndarray of float32, shape (cell rows, cell columns, SPLIT * SPLIT, bands)
        Means over the sub-cells, row by row.
    """
    grid = surface.grid
    along = hat_means(_split(cells.u_m), grid.u_m(), cells.breaks_u_m)
    up = hat_means(_split(cells.v_m), grid.v_m(), cells.breaks_v_m)
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    places = np.stack([u, v], axis=-1).reshape(-1, 2)
    mask: Floats32 | None = None
    if not _fills_rectangle(surface):
        moved = np.abs(pulled_inside(places, surface.corners_uv_m) - places).max(axis=1)
        mask = (moved < 2e-4).astype(np.float32).reshape(u.shape)
    fine: Floats32 = _both(up, along, field if mask is None else field * mask[..., None])
    if mask is not None:
        share = _both(up, along, mask[..., None])
        fine = np.divide(fine, np.maximum(share, np.float32(1e-6)), dtype=np.float32)
    rows, columns = cells.patch.shape
    bands = field.shape[2]
    blocks = fine.reshape(rows, SPLIT, columns, SPLIT, bands).transpose(0, 2, 1, 3, 4)
    blocks = blocks.reshape(rows, columns, SPLIT**2, bands)
    if mask is None:
        return blocks.mean(axis=2), blocks
    part = share.reshape(rows, SPLIT, columns, SPLIT, 1).transpose(0, 2, 1, 3, 4)
    part = part.reshape(rows, columns, SPLIT**2, 1)
    return (blocks * part).sum(axis=2) / np.maximum(part.sum(axis=2), 1e-6), blocks


def own_means(surface: Surface, cells: Cells, field: Floats32) -> Floats32:
    """Means over a surface's patches whose sum over their areas is right, shape (own, bands).

    A whole rectangle has one mean for all: the field's own, by the trapezoidal rule.
    """
    inside = cells.patch >= 0
    if not (inside.all() and _fills_rectangle(surface)):
        return patch_means(surface, cells, field)[0][inside]
    rows, columns, bands = field.shape
    up, along = np.ones(rows), np.ones(columns)
    up[[0, -1]] = along[[0, -1]] = 0.5
    sums = np.einsum("rcb,c->rb", field, along.astype(np.float32))
    mean = np.einsum("rb,r->b", sums, up) / ((rows - 1) * (columns - 1))
    out: Floats32 = np.broadcast_to(mean, (int(inside.sum()), bands)).astype(np.float32)
    return out


def _both(up: Floats32, along: Floats32, field: Floats32) -> Floats32:
    return np.stack([up @ field[..., b] @ along.T for b in range(field.shape[2])], axis=-1)


def _fills_rectangle(surface: Surface) -> bool:
    x, y = surface.corners_uv_m[:, 0], surface.corners_uv_m[:, 1]
    area = abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))) / 2
    return abs(area / (surface.grid.width_m * surface.grid.height_m) - 1) < 1e-9


def _split(lines: Floats) -> Floats:
    share = np.arange(SPLIT) / SPLIT
    inner = lines[:-1, None] + np.diff(lines)[:, None] * share
    return np.append(inner.ravel(), lines[-1])


def hat_means(lines: Floats, nodes: Floats, breaks: Sequence[float] = ()) -> Floats32:
    """Weights of evenly spaced nodes in the mean of a linear interpolant between two lines.

    Parameters
    ----------
    lines : ndarray of float64, shape (cells + 1,)
        Where the cells begin and end. [m]
    nodes : ndarray of float64, shape (nodes,)
        Evenly spaced. [m]
    breaks : sequence of float
        Lines over which nothing is interpolated: beyond the last node on its own side, a cell
        has that node's value. [m]

    Returns
    -------
    ndarray of float32, shape (cells, nodes)
        Rows sum to 1.
    """
    step = nodes[1] - nodes[0]
    y = np.clip((lines[:, None] - nodes) / step, -1.0, 1.0)
    whole = step * np.where(y < 0, (1 + y) ** 2 / 2, 1 - (1 - y) ** 2 / 2)
    out: Floats32 = (np.diff(whole, axis=0) / np.diff(lines)[:, None]).astype(np.float32)
    middles = (lines[1:] + lines[:-1]) / 2
    ends = [-np.inf, *breaks, np.inf]
    for start, stop in pairwise(ends) if len(breaks) else ():
        own = np.flatnonzero((nodes > start + ON_BREAK_M) & (nodes < stop - ON_BREAK_M))
        cells = (middles > start) & (middles < stop)
        if own.size == 0 or not cells.any():
            continue
        first, last = own[0], own[-1]
        part = out[cells]
        part[:, first] += part[:, :first].sum(axis=1)
        part[:, last] += part[:, last + 1 :].sum(axis=1)
        part[:, :first] = 0
        part[:, last + 1 :] = 0
        out[cells] = part
    return out
