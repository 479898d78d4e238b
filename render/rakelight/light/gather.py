"""The room's diffuse light brought from patches to points, and from points to vertices.

Points lie close at a surface's edges and wide in its middle. Each takes every patch by the
polygon formula, and nearer than two patch widths every sub-patch with what runs draw on it, so
that neither patches nor steps show.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.buried import Buried, filled_factors, filled_near, find_buried
from rakelight.light.directions import terms_of
from rakelight.light.glow import Beyond, cells_of
from rakelight.light.kernels.polygon import listed_factors, point_factors
from rakelight.light.patches import SPLIT, Patches
from rakelight.light.places import Places
from rakelight.light.points import PointGrid
from rakelight.light.rays import Blockers, hide, shares_of_parts
from rakelight.scene.frame import Frame
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Sub-patches count for points nearer than this many patch radii.
NEAR_RADII = 4.0
#: And those that see a patch only in part: that part may be its bright one, or not.
PARTLY_RADII = 8.0


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
    beyond : Beyond, optional
        What the terms leave out of its patches' first reflection.
    """

    axes: Floats
    patches: Ints
    subs: Ints
    centres_m: Floats
    sub_centres_m: Floats
    exitance: Floats32
    excess: Floats32
    beyond: Beyond | None = None


def _unit(vectors: Floats) -> Floats:
    out: Floats = vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-9)
    return out


def _toward(points_m: Floats, one: Directed) -> Floats32:
    """Exitance that each patch shows each point, shape (points, patches, bands). [lm/m2]"""
    way = _unit(points_m[:, None] - one.centres_m) @ one.axes
    terms = terms_of(way)
    # by patch: (points, terms) @ (terms, bands)
    out: Floats32 = np.moveaxis(np.moveaxis(terms, 1, 0) @ one.exitance, 0, 1)
    return out if one.beyond is None else out + one.beyond.toward(cells_of(way))


@dataclass(frozen=True, slots=True, eq=False)
class Gather:
    """How a surface's points are lit by the patches, and its vertices by the points.

    Parameters
    ----------
    grid : PointGrid
        The surface's points.
    factors : ndarray of float32, shape (points, patches)
        Form factor to each patch.
    near : ndarray of int32, shape (pairs, 2)
        Points and sub-patches that are near each other.
    near_factors : ndarray of float32, shape (pairs,)
        Form factors of these.
    buried : Buried or None
        Points that a body covers, from `closed_gather`: these factors are their neighbours'.
    """

    grid: PointGrid
    factors: Floats32
    near: Ints
    near_factors: Floats32
    buried: Buried | None = None

    def at_points(
        self, exitance: Floats32, excess: Floats32, directed: Sequence["Directed"] = ()
    ) -> Floats32:
        """Light at the points, shape (points, bands). [lx]

        Parameters
        ----------
        exitance : ndarray of float32, shape (patches, bands)
            Of the diffuse patches; 0 of the others. [lm/m2]
        excess : ndarray of float32, shape (subs, bands)
            Exitance of each sub-patch over its patch's. [lm/m2]
        directed : sequence of Directed
            Surfaces whose exitance depends on direction.
        """
        points_m = self.grid.points_m
        out: Floats32 = self.factors @ exitance
        near = excess[self.near[:, 1]]
        toward = [_toward(points_m, one) for one in directed]
        for one in directed:
            place = np.full(len(excess), -1, np.int32)
            place[one.subs] = np.arange(one.subs.size)
            pairs = np.flatnonzero(place[self.near[:, 1]] >= 0)
            sub = place[self.near[pairs, 1]]
            way = _unit(points_m[self.near[pairs, 0]] - one.sub_centres_m[sub]) @ one.axes
            near[pairs] = np.einsum("nk,nkb->nb", terms_of(way), one.excess[sub])
        for one, light in zip(directed, toward, strict=True):
            out += np.einsum("pq,pqb->pb", self.factors[:, one.patches], light)
        for band in range(out.shape[1]):
            part = self.near_factors * near[:, band]
            out[:, band] += np.bincount(self.near[:, 0], part, len(out)).astype(np.float32)
        return out


def open_gather(surface: Surface, grid: PointGrid, patches: Patches, subs: SubPatches) -> Gather:
    """Form factors of a surface's points to all patches, and to near sub-patches; none hidden.

    Parameters
    ----------
    surface : Surface
        The receiver.
    grid : PointGrid
        Its points.
    patches : Patches
        Of the room, or some of them.
    subs : SubPatches
        Of these patches.
    """
    f32 = np.float32
    points = grid.points_m
    narrow = points.astype(f32)
    facing = np.tile(surface.frame.n.astype(f32), (len(points), 1))
    ways = patches.normals.astype(f32)
    first = np.empty((len(points), patches.count), f32)
    point_factors(
        narrow,
        facing,
        patches.corners_m.astype(f32),
        patches.counts,
        ways,
        patches.centres_m.astype(f32),
        patches.radii_m.astype(f32),
        patches.areas_m2.astype(f32),
        first,
    )
    pairs = _close(narrow, patches, subs, first)
    near = _parts_of(pairs, subs)
    near_first = _part_factors(narrow, facing, near, subs, ways[subs.parent])
    return Gather(grid, first, near, near_first)


def _parts_of(pairs: Ints, subs: SubPatches) -> Ints:
    """Points and all sub-patches of patches, shape (n, 2), of points and patches."""
    inner = np.arange(SPLIT**2, dtype=np.int32)
    point = np.repeat(pairs[:, 0], SPLIT**2)
    part = (subs.start[pairs[:, 1]][:, None] + inner).ravel()
    return np.stack([point, part], axis=1).astype(np.int32)


def _part_factors(
    points: Floats32, facing: Floats32, near: Ints, subs: SubPatches, ways: Floats32
) -> Floats32:
    """Form factors of points to listed sub-patches, nothing in between."""
    out = np.empty(len(near), np.float32)
    four = np.full(len(subs.parent), 4, np.int32)
    listed_factors(points, facing, subs.corners_m, four, ways, near, out)
    return out


def _close(points: Floats32, patches: Patches, subs: SubPatches, first: Floats32) -> Ints:
    """Points and patches that are near each other, shape (n, 2)."""
    reach = np.where(subs.start >= 0, NEAR_RADII * patches.radii_m, 0.0).astype(np.float32)
    square = np.zeros(first.shape, np.float32)
    centres = patches.centres_m.astype(np.float32)
    for k in range(3):
        gap = points[:, k, None] - centres[:, k]
        square += gap * gap
    out: Ints = np.argwhere((square < reach * reach) & (first > 0)).astype(np.int32)
    return out


def hidden_gather(
    gather: Gather,
    what: Blockers,
    normal: Floats,
    places: Places,
    ends_m: Floats32,
    subs: SubPatches,
) -> Gather:
    """Take what something hides from the points out of a gather.

    Parameters
    ----------
    gather : Gather
        From `open_gather`.
    what : Blockers
        What can hide.
    normal : ndarray of float64, shape (3,)
        Of the surface.
    places : Places
        The patches.
    ends_m : ndarray of float32, shape (patches, 16, 3)
        Points spread over each patch. [m]
    subs : SubPatches
        Their parts. Where a patch is seen in part, each has its own share: below a housing it is
        the lit part of a cheek that is seen, not an even half of all of it.
    """
    if not len(what.planes):
        return gather
    first = gather.factors.copy()
    starts = (gather.grid.points_m + 1e-4 * normal).astype(np.float32)[:, None]
    hide(first, what, gather.grid.places, places, starts, ends_m)
    near, open_near = _with_partly_hidden(gather, first, normal, places, subs)
    parts = SPLIT**2
    at = (near[::parts, 0], subs.parent[near[::parts, 1]])
    clear = first[at] / np.maximum(gather.factors[at], np.float32(1e-30))
    factors = open_near.reshape(-1, parts) * clear[:, None].astype(np.float32)
    partly = np.flatnonzero((clear > 0) & (clear < 1))
    if what.scene is None and partly.size:
        some = near.reshape(-1, parts, 2)[partly].reshape(-1, 2)
        args = (starts[:, 0], normal, gather.grid.places, places, subs.corners_m, subs.parent)
        shares = shares_of_parts(what, *args, some).reshape(-1, parts)
        shown = open_near.reshape(-1, parts)[partly] * shares
        whole = shown.sum(axis=1, keepdims=True)
        # only how the parts share it changes: what patches send in all is scaled as a whole
        np.copyto(shown, factors[partly], where=whole <= 0)
        shown *= factors[partly].sum(axis=1, keepdims=True) / shown.sum(axis=1, keepdims=True)
        factors[partly] = shown
    return replace(gather, factors=first, near=near, near_factors=factors.ravel())


def _with_partly_hidden(
    gather: Gather, seen: Floats32, normal: Floats, places: Places, subs: SubPatches
) -> tuple[Ints, Floats32]:
    """Near sub-patches with those of patches, not so near, that points see in part; open factors.

    `seen` holds the factors less what is hidden.
    """
    centres = gather.grid.places.centres_m
    point, patch = np.nonzero((seen > 0) & (seen < gather.factors) & (subs.start >= 0))
    gap = centres[point] - places.centres_m[patch]
    reach = PARTLY_RADII * np.linalg.norm(places.sizes_m[patch], axis=1)
    new = np.einsum("nk,nk->n", gap, gap) < reach * reach
    known = np.zeros(seen.shape, np.bool_)
    parts = SPLIT**2
    known[gather.near[::parts, 0], subs.parent[gather.near[::parts, 1]]] = True
    new &= ~known[point, patch]
    if not new.any():
        return gather.near, gather.near_factors
    near = _parts_of(np.stack([point, patch], axis=1)[new], subs)
    points = gather.grid.points_m.astype(np.float32)
    facing = np.tile(normal.astype(np.float32), (len(points), 1))
    ways = places.normals[subs.parent]
    return (
        np.concatenate([gather.near, near]),
        np.concatenate([gather.near_factors, _part_factors(points, facing, near, subs, ways)]),
    )


def joined_gather(one: Gather, more: Gather) -> Gather:
    """Gather from the patches of two lists; only the first has sub-patches."""
    return replace(one, factors=np.concatenate([one.factors, more.factors], axis=1))


def closed_gather(gather: Gather, scale: Floats32, parent: Ints) -> Gather:
    """Make every point of a closed room see exactly one half-space; buried ones as others do.

    Parameters
    ----------
    gather : Gather
        What each point sees.
    scale : ndarray of float32, shape (patches,)
        Of the patches, from `exchange_factors`: what they send to other patches they send to
        points. Without it, light of a bright patch that the end of a housing half covers was half
        lost on the way (0.4 % of all light in a grazed room 3 m deep).
    parent : ndarray of int32, shape (subs,)
        Patch of each sub-patch.
    """
    factors = gather.factors * scale
    near = gather.near
    sums = factors.sum(axis=1, dtype=np.float64)
    buried = find_buried(gather.grid, sums)
    per = (1 / np.maximum(sums, 1e-6)).astype(np.float32)
    factors *= per[:, None]
    near_factors = gather.near_factors * scale[parent[near[:, 1]]]
    near_factors *= per[near[:, 0]]
    if buried is not None:
        filled_factors(factors, buried)
        near, near_factors = filled_near(near, near_factors, buried, SPLIT**2, factors, parent)
    return replace(gather, factors=factors, near=near, near_factors=near_factors, buried=buried)
