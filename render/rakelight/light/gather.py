"""The room's diffuse light brought from patches to points, and from points to vertices.

Points lie close at a surface's edges and wide in its middle. Each takes every patch by the
polygon formula, and nearer than two patch widths every sub-patch with what runs draw on it, so
that neither patches nor steps show.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.directions import terms_of
from rakelight.light.kernels.polygon import listed_factors, point_factors
from rakelight.light.patches import SPLIT, Cells, Patches, graded, with_cuts
from rakelight.light.rays import Blockers, separable, visible_share
from rakelight.scene.frame import Frame
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Points keep this far from a surface's edges, where the next surface would fill half a view. [m]
INSET_M = 1e-4
#: Sub-patches count for points nearer than this many patch radii.
NEAR_RADII = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class SubPatches:
    """Patches cut again into SPLIT x SPLIT, for what is near.

    Parameters
    ----------
    corners_m : ndarray of float32, shape (subs, 4, 3)
        Quadrilaterals; cells that a polygon clips are not cut. [m]
    parent : ndarray of int32, shape (subs,)
        Patch of each.
    start : ndarray of int32, shape (patches,)
        First sub-patch of each patch; -1 where it is not cut. Sub-patches follow row by row.
    """

    corners_m: Floats32
    parent: Ints
    start: Ints


def cut_again(patches: Patches, frames: Sequence[Frame]) -> SubPatches:
    """Cut every rectangular patch of a surface into SPLIT x SPLIT."""
    corners: list[Floats] = []
    parent: list[int] = []
    start = np.full(patches.count, -1, np.int32)
    share = np.arange(SPLIT + 1) / SPLIT
    for cells, frame in zip(patches.cells, frames, strict=True):
        for (row, column), number in np.ndenumerate(cells.patch):
            if number < 0:
                continue
            u0, u1 = cells.u_m[column : column + 2]
            v0, v1 = cells.v_m[row : row + 2]
            if abs(patches.areas_m2[number] / ((u1 - u0) * (v1 - v0)) - 1) > 1e-6:
                continue
            start[number] = len(parent)
            u, v = u0 + (u1 - u0) * share, v0 + (v1 - v0) * share
            square = np.zeros((SPLIT, SPLIT, 4, 3))
            square[..., 0, 0] = square[..., 3, 0] = u[:-1]
            square[..., 1, 0] = square[..., 2, 0] = u[1:]
            square[..., 0, 1] = square[..., 1, 1] = v[:-1, None]
            square[..., 2, 1] = square[..., 3, 1] = v[1:, None]
            corners.append(frame.to_room(square.reshape(-1, 4, 3)))
            parent += [int(number)] * SPLIT**2
    stacked = np.concatenate(corners) if corners else np.zeros((0, 4, 3))
    return SubPatches(stacked.astype(np.float32), np.array(parent, np.int32), start)


@dataclass(frozen=True, slots=True, eq=False)
class Directed:
    """A surface whose exitance depends on direction.

    Parameters
    ----------
    axes : ndarray of float64, shape (3, 3)
        The surface's u, v and n in the room, as columns.
    patches, subs : ndarray of int32, shape (own,), (own subs,)
        Its patches and sub-patches among the room's.
    centres_m, sub_centres_m : ndarray of float64, shape (own, 3), (own subs, 3)
        Their centres. [m]
    exitance : ndarray of float32, shape (own, TERMS, bands)
        Of its patches, by terms. [lm/m2]
    excess : ndarray of float32, shape (own subs, TERMS, bands)
        Those of its sub-patches, less their patches'. [lm/m2]
    """

    axes: Floats
    patches: Ints
    subs: Ints
    centres_m: Floats
    sub_centres_m: Floats
    exitance: Floats32
    excess: Floats32


def _unit(vectors: Floats) -> Floats:
    out: Floats = vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-9)
    return out


def _toward(points_m: Floats, one: Directed) -> Floats32:
    """Exitance that each patch shows each point, shape (points, patches, bands). [lm/m2]"""
    terms = terms_of(_unit(points_m[:, None] - one.centres_m) @ one.axes)
    # by patch: (points, terms) @ (terms, bands)
    out: Floats32 = np.moveaxis(np.moveaxis(terms, 1, 0) @ one.exitance, 0, 1)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class Gather:
    """How a surface's points are lit by the patches, and its vertices by the points.

    Parameters
    ----------
    u_m, v_m : ndarray of float64, shape (columns,), (rows,)
        Points along u and v. [m]
    points_m : ndarray of float64, shape (points, 3)
        The points, row by row, in the room. [m]
    factors : ndarray of float32, shape (moments, points, patches)
        Form factor to each patch; for a surface with relief also times the direction's u, v
        and n component (4 moments), else 1 moment. Points run row by row.
    near : ndarray of int32, shape (pairs, 2)
        Points and sub-patches that are near each other.
    near_factors : ndarray of float32, shape (moments, pairs)
        Form factors of these, likewise.
    along_u, along_v : tuple of ndarray, shape (vertex columns, 4), (vertex rows, 4)
        Points and weights that interpolate at each column and row of vertices.
    """

    u_m: Floats
    v_m: Floats
    points_m: Floats
    factors: Floats32
    near: Ints
    near_factors: Floats32
    along_u: tuple[Ints, Floats32]
    along_v: tuple[Ints, Floats32]

    def at_points(
        self, exitance: Floats32, excess: Floats32, directed: Sequence["Directed"] = ()
    ) -> Floats32:
        """Moments of the light at the points, shape (moments, v, u, bands). [lx]

        Parameters
        ----------
        exitance : ndarray of float32, shape (patches, bands)
            Of the diffuse patches; 0 of the others. [lm/m2]
        excess : ndarray of float32, shape (subs, bands)
            Exitance of each sub-patch over its patch's. [lm/m2]
        directed : sequence of Directed
            Surfaces whose exitance depends on direction.
        """
        moments, points, _ = self.factors.shape
        bands = exitance.shape[1]
        out = np.empty((moments, points, bands), np.float32)
        near = excess[self.near[:, 1]]
        toward = [_toward(self.points_m, one) for one in directed]
        for one in directed:
            place = np.full(len(excess), -1, np.int32)
            place[one.subs] = np.arange(one.subs.size)
            pairs = np.flatnonzero(place[self.near[:, 1]] >= 0)
            sub = place[self.near[pairs, 1]]
            way = _unit(self.points_m[self.near[pairs, 0]] - one.sub_centres_m[sub]) @ one.axes
            near[pairs] = np.einsum("nk,nkb->nb", terms_of(way), one.excess[sub])
        for k in range(moments):
            out[k] = self.factors[k] @ exitance
            for one, light in zip(directed, toward, strict=True):
                out[k] += np.einsum("pq,pqb->pb", self.factors[k][:, one.patches], light)
            for band in range(bands):
                part = self.near_factors[k] * near[:, band]
                out[k, :, band] += np.bincount(self.near[:, 0], part, points).astype(np.float32)
        return out.reshape(moments, self.v_m.size, self.u_m.size, -1)

    def to_vertices(self, at_points: Floats32) -> Floats32:
        """Interpolate a field of points, shape (v, u, bands), to (rows, columns, bands)."""
        columns, mix_u = self.along_u
        rows, mix_v = self.along_v
        wide = np.einsum("vctb,ct->vcb", at_points[:, columns], mix_u)
        out: Floats32 = np.einsum("rtcb,rt->rcb", wide[rows], mix_v, dtype=np.float32)
        return out


def cubic_weights(nodes: Floats, at: Floats) -> tuple[Ints, Floats32]:
    """Four nodes and weights that interpolate at each place, shape (places, 4).

    Cubic Hermite with three-point slopes: exact for parabolas, without the creases that linear
    interpolation shows in an even gradient. Linear in the first and the last interval's outer
    slope.
    """
    count = nodes.size
    k = np.clip(np.searchsorted(nodes, at, "right") - 1, 0, count - 2)
    gap = np.diff(nodes)
    h = gap[k]
    t = np.clip((at - nodes[k]) / h, 0.0, 1.0)
    value0 = (1 + 2 * t) * (1 - t) ** 2
    value1 = t * t * (3 - 2 * t)
    slope0 = t * (1 - t) ** 2 * h
    slope1 = t * t * (t - 1) * h
    # slope at node i as weights of nodes i - 1, i, i + 1
    slopes = np.zeros((count, 3))
    slopes[0, 1:] = [-1 / gap[0], 1 / gap[0]]
    slopes[-1, :2] = [-1 / gap[-1], 1 / gap[-1]]
    a, b = gap[:-1], gap[1:]
    slopes[1:-1, 0] = -b / (a * (a + b))
    slopes[1:-1, 1] = (b - a) / (a * b)
    slopes[1:-1, 2] = a / (b * (a + b))
    weights = np.zeros((at.size, 4))
    weights[:, 1] += value0
    weights[:, 2] += value1
    weights[:, 0:3] += slope0[:, None] * slopes[k]
    weights[:, 1:4] += slope1[:, None] * slopes[k + 1]
    index = np.clip(k[:, None] + np.arange(-1, 3), 0, count - 1)
    return index.astype(np.int32), weights.astype(np.float32)


def prepare_gather(
    surface: Surface,
    patches: Patches,
    subs: SubPatches,
    what: Blockers,
    cells: Cells,
    edge_m: float,
    most_m: float,
) -> Gather:
    """Place a surface's points and find what they see.

    Parameters
    ----------
    surface : Surface
        The receiver.
    patches : Patches
        Of the room.
    subs : SubPatches
        Of the patches.
    what : Blockers
        What can stand between.
    cells : Cells
        The surface's own; where a near body cuts them, points are set to either side.
    edge_m, most_m : float
        Distance between points at the edges and in the middle. [m]
    """
    grid = surface.grid
    u = _point_lines(grid.width_m, cells.u_m, edge_m, most_m)
    v = _point_lines(grid.height_m, cells.v_m, edge_m, most_m)
    place = np.zeros((v.size, u.size, 3))
    place[..., 0] = np.clip(u, INSET_M, grid.width_m - INSET_M)
    place[..., 1] = np.clip(v, INSET_M, grid.height_m - INSET_M)[:, None]
    flat = place.reshape(-1, 3)
    flat[:, :2] = pulled_inside(flat[:, :2], surface.corners_uv_m)
    points = surface.frame.to_room(flat)
    f32 = np.float32
    narrow = points.astype(f32)
    facing = np.tile(surface.frame.n.astype(f32), (len(points), 1))
    ways = patches.normals.astype(f32)
    first = np.empty((len(points), patches.count), f32)
    point_factors(narrow, facing, patches.corners_m.astype(f32), patches.counts, ways, first)
    distance = np.linalg.norm(narrow[:, None] - patches.centres_m.astype(f32)[None], axis=2)
    seen = first > 0
    close = seen & (distance < NEAR_RADII * patches.radii_m.astype(f32)) & (subs.start >= 0)
    pairs = np.argwhere(close).astype(np.int32)
    inner = np.arange(SPLIT**2, dtype=np.int32)
    near = np.stack(
        [
            np.repeat(pairs[:, 0], SPLIT**2),
            (subs.start[pairs[:, 1]][:, None] + inner).ravel(),
        ],
        axis=1,
    ).astype(np.int32)
    near_first = np.empty(len(near), f32)
    four = np.full(len(subs.parent), 4, np.int32)
    listed_factors(narrow, facing, subs.corners_m, four, ways[subs.parent], near, near_first)
    if what.scene is not None:
        hidden = separable(what, points, np.full(len(points), 0.01), patches, seen)
        ends = patches.spread()
        starts = np.repeat(narrow[:, None], ends.shape[1], axis=1)
        starts = starts + f32(1e-4) * surface.frame.n.astype(f32)
        share = visible_share(what, starts, ends, hidden)
        clear = np.ones(first.shape, f32)
        clear[hidden[:, 0], hidden[:, 1]] = share
        first *= clear
        near_first *= clear[near[:, 0], subs.parent[near[:, 1]]]
    if surface.relief is None:
        factors, near_factors = first[None], near_first[None]
    else:
        way = surface.frame.direction_from_room(patches.centres_m[None] - points[:, None])
        length = np.linalg.norm(way, axis=2, keepdims=True)  # 0 to the patch it lies on
        way = (way / np.maximum(length, 1e-9)).astype(f32)
        factors = np.concatenate([first[None], np.moveaxis(way, 2, 0) * first])
        middle = subs.corners_m.mean(axis=1)
        at = surface.frame.direction_from_room(middle[near[:, 1]] - points[near[:, 0]])
        at = (at / np.maximum(np.linalg.norm(at, axis=1, keepdims=True), 1e-9)).astype(f32)
        near_factors = np.concatenate([near_first[None], at.T * near_first])
    return Gather(
        u,
        v,
        points,
        factors,
        near,
        near_factors,
        cubic_weights(u, grid.u_m()),
        cubic_weights(v, grid.v_m()),
    )


def _point_lines(length_m: float, cell_lines: Floats, edge_m: float, most_m: float) -> Floats:
    lines = graded(length_m, edge_m, most_m)
    own = np.array([x for x in cell_lines if np.abs(x - lines).min() > edge_m / 2])
    if own.size and own.size < 8:  # outlines of near bodies, not another grading
        return with_cuts(lines, [*own.tolist()], edge_m / 4)
    return lines


def pulled_inside(points: Floats, corners: Floats, inset_m: float = INSET_M) -> Floats:
    """Points of a plane, shape (n, 2), moved to the nearest place inside a polygon."""
    after = np.roll(corners, -1, axis=0)
    edge = after - corners
    relative = points[:, None] - corners
    cross = edge[:, 0] * relative[..., 1] - edge[:, 1] * relative[..., 0]
    # even-odd rule
    low = np.minimum(corners[:, 1], after[:, 1])
    high = np.maximum(corners[:, 1], after[:, 1])
    crosses = (points[:, None, 1] >= low) & (points[:, None, 1] < high)
    right = np.where(edge[:, 1] > 0, cross > 0, cross < 0)
    inside = (crosses & right).sum(axis=1) % 2 == 1
    along = np.clip((relative * edge).sum(axis=2) / (edge * edge).sum(axis=1), 0.0, 1.0)
    foot = corners + along[..., None] * edge
    nearest = np.linalg.norm(points[:, None] - foot, axis=2).argmin(axis=1)
    which = np.arange(len(points))
    inward = np.stack([-edge[:, 1], edge[:, 0]], axis=1)
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    moved = foot[which, nearest] + inset_m * inward[nearest]
    out: Floats = np.where(inside[:, None], points, moved)
    return out
