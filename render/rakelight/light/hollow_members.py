"""Which pieces of a relief's hollows make up which patches and sub-patches of its wall."""

import numpy as np
from numpy.typing import NDArray

from rakelight.light.gather import SubPatches
from rakelight.light.hollows import Hollows
from rakelight.light.patches import SPLIT, Cells, Patches
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


def members_of(
    surface: Surface,
    hollows: Hollows,
    patches: Patches,
    subs: SubPatches,
    cells: Cells,
    own: Ints,
    own_subs: Ints,
) -> tuple[Ints, Ints, Ints]:
    """Pairs of a piece and the patch and sub-patch that it belongs to.

    Parameters
    ----------
    surface, hollows : Surface, Hollows
        A relief's.
    patches, subs, cells : Patches, SubPatches, Cells
        The room's, and the surface's cells.
    own, own_subs : ndarray of int32, shape (own,), (own subs,)
        The surface's patches and sub-patches among the room's.

    Returns
    -------
    ndarray of int32, three of shape (pairs,)
        Pieces, and the place of each one's patch in `own` and of its sub-patch in `own_subs`;
        -1: none.
    """
    u, v = hollows.places()
    patch, sub = _locate(cells, subs, u, v)
    patch = place_in(own, patch, patches.count)
    sub = place_in(own_subs, sub, len(subs.parent))
    pieces = np.arange(u.size, dtype=np.int32)
    kept = (patch >= 0) & (hollows.area_m2 > 0)
    pairs = [(pieces[kept], patch[kept], sub[kept])]
    # a patch or sub-patch narrower than a block has no block's middle: it takes the nearest
    empty = np.setdiff1d(np.arange(own.size), patch[kept])
    middles = surface.frame.from_room(patches.centres_m[own[empty]])[:, :2]
    pairs.append((_piece_near(hollows, middles), empty, np.full(empty.size, -1)))
    bare = np.setdiff1d(np.arange(own_subs.size), sub[kept])
    corners = subs.corners_m[own_subs[bare]].astype(np.float64)
    middles = surface.frame.from_room(corners.mean(axis=1))[:, :2]
    pairs.append((_piece_near(hollows, middles), np.full(bare.size, -1), bare))
    members, patch, sub = (
        np.concatenate([pair[k] for pair in pairs]).astype(np.int32) for k in range(3)
    )
    return members, patch, sub


def place_in(own: Ints, number: Ints, count: int) -> Ints:
    """Place of numbers in a list.

    Parameters
    ----------
    own : ndarray of int32, shape (own,)
        The list.
    number : ndarray of int32
        Each below `count`; -1: none.
    count : int
        How many numbers there are.

    Returns
    -------
    ndarray of int32
        -1 for those not in the list.
    """
    place = np.full(count + 1, -1, np.int32)
    place[own] = np.arange(own.size)
    out: Ints = place[number]
    return out


def _locate(cells: Cells, subs: SubPatches, u: Floats, v: Floats) -> tuple[Ints, Ints]:
    """Patch and sub-patch of places on a surface; -1 where there is none."""
    column = np.clip(np.searchsorted(cells.u_m, u, "right") - 1, 0, cells.u_m.size - 2)
    row = np.clip(np.searchsorted(cells.v_m, v, "right") - 1, 0, cells.v_m.size - 2)
    patch = cells.patch[row, column]
    across = (u - cells.u_m[column]) / np.diff(cells.u_m)[column] * SPLIT
    up = (v - cells.v_m[row]) / np.diff(cells.v_m)[row] * SPLIT
    inner_row, inner_column = (np.clip(at.astype(int), 0, SPLIT - 1) for at in (up, across))
    inner = inner_row * SPLIT + inner_column
    start = np.where(patch >= 0, subs.start[patch], -1)
    sub = np.where(start >= 0, start + inner, -1)
    return patch.astype(np.int32), sub.astype(np.int32)


def _piece_near(hollows: Hollows, places: Floats) -> Ints:
    """The lowest piece of the block at each place, shape (places, 2) [m]."""
    grid = hollows.relief.grid
    column = (places[:, 0] / (hollows.size * grid.step_u_m)).astype(int)
    row = (places[:, 1] / (hollows.size * grid.step_v_m)).astype(int)
    rows, columns = hollows.bins.shape
    out: Ints = hollows.first[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)]
    return np.minimum(out, hollows.area_m2.size - 1)
