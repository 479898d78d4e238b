"""Places that light goes between, patches or points, gathered into groups of near ones."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.patches import Patches

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Patches or points along each side of a group.
GROUP = 4


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Patches or points, in groups of near ones.

    Parameters
    ----------
    centres_m, sizes_m : ndarray of float32, shape (places, 3)
        Centre and half sizes of the box around each. [m]
    group : ndarray of int32, shape (places,)
        Its group.
    group_centres_m, group_sizes_m : ndarray of float32, shape (groups, 3)
        Boxes around the groups. [m]
    group_owners : ndarray of int32, shape (groups,)
        Whose they are: a surface's index, or any higher number.
    normals : ndarray of float32, shape (places, 3)
        Where each faces; unit vectors.
    """

    centres_m: Floats32
    sizes_m: Floats32
    group: Ints
    group_centres_m: Floats32
    group_sizes_m: Floats32
    group_owners: Ints
    normals: Floats32


def in_groups(low_m: Floats, high_m: Floats, group: Ints, owner: Ints, normals: Floats) -> Places:
    """Gather boxes, shape (places, 3), by the group of each; no group has two owners."""
    _, first, index = np.unique(group, return_index=True, return_inverse=True)
    count = int(index.max(initial=-1)) + 1
    least, most = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(least, index, low_m)
    np.maximum.at(most, index, high_m)
    f32 = np.float32
    return Places(
        ((low_m + high_m) / 2).astype(f32),
        ((high_m - low_m) / 2).astype(f32),
        index.astype(np.int32),
        ((least + most) / 2).astype(f32),
        ((most - least) / 2).astype(f32),
        owner[first].astype(np.int32),
        normals.astype(f32),
    )


def patch_places(patches: Patches) -> Places:
    """Patches in groups: of surfaces by row and column, of bodies in their order."""
    group = np.full(patches.count, -1, np.int32)
    base = 0
    for cells in patches.cells:
        rows, columns = cells.patch.shape
        row, column = np.nonzero(cells.patch >= 0)
        wide = -(-columns // GROUP)
        group[cells.patch[row, column]] = base + (row // GROUP) * wide + column // GROUP
        base += wide * (-(-rows // GROUP))
    rest = np.flatnonzero(group < 0)
    if rest.size:
        facing = np.abs(np.diff(patches.normals[rest], axis=0)).max(axis=1) > 1e-6
        other = np.concatenate([[False], facing | (np.diff(patches.owner[rest]) != 0)])
        run = np.cumsum(other)
        first = np.concatenate([[0], np.flatnonzero(other)])
        inner = (np.arange(rest.size) - first[run]) // GROUP
        group[rest] = base + run * rest.size + inner
    corners = patches.corners_m
    low, high = corners.min(axis=1), corners.max(axis=1)
    return in_groups(low, high, group, patches.owner, patches.normals)
