"""Points of a surface that a body covers: they take what their neighbours see.

Where a body touches a surface, as the end of a wall-to-wall housing touches the side wall or a
trestle the table on it, points lie inside the body's outline. They see nothing: what is left of
their form factors, 4e-5 of a half-space, is what lies behind the body's other end. Scaled up to a
whole half-space in a closed room it said 5,000 to 11,000 lx on a wall that receives 450, and the
vertices around such a point, which are in plain view, shone with it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.points import PointGrid

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: A point in a closed room whose form factors sum to less than this is buried. Those beside bodies
#: miss 1 by a few per cent, those in the narrowest corners by half.
LEAST_SEEN = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Buried:
    """Buried points and what stands in for them.

    Parameters
    ----------
    points : ndarray of int32, shape (buried,)
        Their numbers.
    pairs : ndarray of int32, shape (pairs, 2)
        A buried point and one in the open beside it; none for a surface that is covered all over.
    share : ndarray of float32, shape (pairs,)
        How much of it counts; they sum to 1 for each buried point that has any.
    """

    points: Ints
    pairs: Ints
    share: Floats32

    @property
    def nearest(self) -> Ints:
        """Each buried point and the one that counts most, shape (buried with any, 2)."""
        order = np.lexsort((-self.share, self.pairs[:, 0]))
        sorted_pairs = self.pairs[order]
        _, first = np.unique(sorted_pairs[:, 0], return_index=True)
        out: Ints = sorted_pairs[first]
        return out


def find_buried(grid: PointGrid, sums: Floats) -> Buried | None:
    """Points that see next to nothing, and their neighbours that see the room.

    Parameters
    ----------
    grid : PointGrid
        The points.
    sums : ndarray of float64, shape (points,)
        Their form factors' sums in a closed room, before they are scaled to 1.

    Returns
    -------
    Buried or None
        None where no point is buried. A neighbour is the next point in the open along the row or
        the column, either way; it counts by 1 over its distance. Neither holes nor breaks are
        crossed: beyond them light is another. Where that finds none, the nearest one counts.
    """
    hidden = sums < LEAST_SEEN
    if not hidden.any():
        return None
    number = np.full(grid.real.shape, -1, np.int64)
    number[grid.real] = np.arange(sums.size)
    row, column = np.nonzero(grid.real)
    buried = np.flatnonzero(hidden)
    open_points = np.flatnonzero(~hidden)
    lines = (grid.v_m, grid.u_m)
    pairs: list[tuple[int, int]] = []
    share: list[float] = []
    for point in buried if open_points.size else ():
        found: list[tuple[int, float]] = []
        for axis in (0, 1):
            for way in (-1, 1):
                at = [int(row[point]), int(column[point])]
                start = lines[axis][at[axis]]
                while True:
                    here = lines[axis][at[axis]]
                    at[axis] += way
                    if not 0 <= at[axis] < lines[axis].size or lines[axis][at[axis]] == here:
                        break
                    other = int(number[at[0], at[1]])
                    if other < 0:
                        break
                    if not hidden[other]:
                        found.append((other, 1 / abs(float(lines[axis][at[axis]] - start))))
                        break
        if not found:
            away = grid.points_m[open_points] - grid.points_m[point]
            found = [(int(open_points[np.argmin((away * away).sum(axis=1))]), 1.0)]
        whole = sum(weight for _, weight in found)
        pairs += [(int(point), other) for other, _ in found]
        share += [weight / whole for _, weight in found]
    return Buried(
        buried.astype(np.int32),
        np.array(pairs, np.int32).reshape(-1, 2),
        np.array(share, np.float32),
    )


def filled_factors(factors: Floats32, buried: Buried) -> None:
    """Give buried points their neighbours' form factors, shape (points, patches), in place."""
    factors[buried.points] = 0
    for (point, other), share in zip(buried.pairs, buried.share, strict=True):
        factors[point] += share * factors[other]


def filled_near(
    near: Ints,
    near_factors: Floats32,
    buried: Buried,
    each: int,
    factors: Floats32,
    parent: Ints,
) -> tuple[Ints, Floats32]:
    """Give buried points their neighbours' near sub-patches.

    Parameters
    ----------
    near : ndarray of int32, shape (pairs * each, 2)
        Points and sub-patches; those of one point and one patch follow one another.
    near_factors : ndarray of float32, shape (pairs * each,)
        Form factors of these.
    buried : Buried
        From `find_buried`.
    each : int
        Sub-patches of a patch.
    factors : ndarray of float32, shape (points, patches)
        To whole patches, with those of buried points from `filled_factors`: their parts add up to
        them, though a patch may be near to some of the neighbours alone.
    parent : ndarray of int32, shape (sub-patches,)
        Patch of each sub-patch.

    Returns
    -------
    ndarray of int32, shape (other pairs * each, 2), and of float32, shape (other pairs * each,)
        The same, without what buried points saw and with what stands in for it. A point and a
        patch are still there no more than once.
    """
    first = near[::each]
    parts = near_factors.reshape(-1, each)
    kept = ~np.isin(first[:, 0], buried.points)
    keys: dict[tuple[int, int], Floats32] = {}
    for (point, other), share in zip(buried.pairs, buried.share, strict=True):
        for k in np.flatnonzero(first[:, 0] == other):
            key = (int(point), int(first[k, 1]))
            keys[key] = keys.get(key, np.float32(0)) + share * parts[k]
    if not keys:
        more, more_parts = np.zeros((0, 2), np.int32), np.zeros((0, each), np.float32)
    else:
        more = np.array(list(keys), np.int32)
        more_parts = np.stack(list(keys.values()))
        whole = factors[more[:, 0], parent[more[:, 1]]]
        more_parts *= (whole / np.maximum(more_parts.sum(axis=1), np.float32(1e-12)))[:, None]
    starts = np.concatenate([first[kept], more])
    out = np.repeat(starts, each, axis=0)
    out[:, 1] += np.tile(np.arange(each, dtype=np.int32), len(starts))
    return out, np.concatenate([parts[kept], more_parts]).ravel()
