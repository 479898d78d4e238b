"""What a relief's vertices see of the room, direction by direction.

A vertex under a ledge sees a slice of the room. Taken as linear in direction, the room's light on
such vertices of a grazed ledgestone was 10 % off (RMS), and on open ones that look aside 5 %. So
each point of the wall looks along fixed rays at the room's patches, and what it sees, by bins of
azimuth and elevation, less the linear part, is weighted at each vertex with what its horizons
leave of each bin. Light that is the same all over, or linear, is left as it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.directions import terms_of
from rakelight.light.gather import Directed, Gather, SubPatches
from rakelight.light.glow import cells_of
from rakelight.light.hollow_members import place_in
from rakelight.light.openness import around_rad
from rakelight.light.patches import SPLIT, Patches
from rakelight.light.points import PointGrid
from rakelight.scene.surfaces import Surface

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Edges of the bins by elevation over the mean plane. [deg]
EDGES_DEG = (0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 41.0, 48.0, 56.0, 66.0, 90.0)
#: Rays of a bin: across and up.
ACROSS, UP = 3, 2
#: The tangent of an elevation changes by at most so much with height: within a few centimetres of
#: a corner, where more would be due, what points on the mean plane see there says little.
MOST_MOVED = 0.5
#: Rays start this far off the surface. [m]
LIFT_M = 1e-4
#: A ray stands for at most so many times its even share, and at least for one such part of it.
MOST_SHARE = 16.0


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """What the points of a wall see along their rays.

    Parameters
    ----------
    starts_m : ndarray of float32, shape (points, 3)
        Where each point's rays start. [m]
    ways : ndarray of float32, shape (rays, 3)
        Their unit directions in the room, bin by bin.
    seen : ndarray of int32, shape (points, rays)
        Patch that each meets; -1: none.
    sub : ndarray of int32, shape (points, rays)
        Sub-patch; -1: none.
    length_m : ndarray of float32, shape (points, rays)
        How far away it is. [m]
    parent : ndarray of int32, shape (subs,)
        Patch of each sub-patch.
    share : ndarray of float32, shape (points, bins, rays of a bin), or None
        Of each ray in its bin, from `shares_by_factors`; even without.
    pair : ndarray of int32, shape (points, rays), or None
        Which pair of a point and a near patch each ray is of; -1: none.
    others : ndarray of float32, shape (pairs, SPLIT^2), or None
        Share of the patch's form factor that sub-patches have which no ray meets.
    near : ndarray of int32, shape (pairs, SPLIT^2), or None
        The sub-patches of each pair.
    """

    starts_m: Floats32
    ways: Floats32
    seen: Ints
    sub: Ints
    length_m: Floats32
    parent: Ints
    share: Floats32 | None = None
    pair: Ints | None = None
    others: Floats32 | None = None
    near: Ints | None = None


def rays_of_bins(azimuths_rad: Floats) -> Floats:
    """Directions (u, v, n) that stand for equal cosine within each bin, shape (rays, 3).

    Azimuth by azimuth, elevation by elevation.
    """
    width = 2 * np.pi / azimuths_rad.size
    turn = azimuths_rad[:, None] + width * ((np.arange(ACROSS) + 0.5) / ACROSS - 0.5)
    square = np.sin(np.radians(EDGES_DEG)) ** 2
    share = (np.arange(UP) + 0.5) / UP
    height = np.sqrt(square[:-1, None] + np.diff(square)[:, None] * share)
    flat = np.sqrt(1 - height**2)
    shape = (azimuths_rad.size, height.shape[0], ACROSS, UP)
    turn, height, flat = (
        np.broadcast_to(x, shape) for x in (turn[:, None, :, None], height[:, None], flat[:, None])
    )
    out: Floats = np.stack([np.sin(turn) * flat, np.cos(turn) * flat, height], axis=-1)
    return out.reshape(-1, 3)


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """Patches that rays can meet.

    Parameters
    ----------
    scene : object
        The ray tracer's.
    patch : ndarray of int32, shape (triangles,)
        Patch of each of its triangles.
    normals : ndarray of float32, shape (triangles, 3)
        Where its front is.
    """

    scene: EmbreeScene
    patch: Ints
    normals: Floats32


def sight_of(patches: Patches, first: int = 0) -> Sight:
    """Let rays meet patches, which are numbered from `first`."""
    corners, most = patches.corners_m, int(patches.counts.max())
    fans = [corners[:, [0, k, k + 1]][patches.counts > k + 1] for k in range(1, most - 1)]
    which = [np.flatnonzero(patches.counts > k + 1) for k in range(1, most - 1)]
    patch = np.concatenate(which)
    scene = EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(np.concatenate(fans), np.float32))
    normals = patches.normals[patch].astype(np.float32)
    return Sight(scene, (patch + first).astype(np.int32), normals)


def look_out(surface: Surface, grid: PointGrid, sight: Sight, subs: SubPatches) -> Outlook:
    """What a surface's points see of the patches.

    Parameters
    ----------
    surface : Surface
        With relief.
    grid : PointGrid
        Its points.
    sight : Sight
        Of the room and the bodies that stay.
    subs : SubPatches
        Of the room's patches.
    """
    frame = surface.frame
    axes = np.stack([frame.u, frame.v, frame.n])
    ways = (rays_of_bins(around_rad()) @ axes).astype(np.float32)
    starts = (grid.points_m + LIFT_M * frame.n).astype(np.float32)
    shape = (len(starts), len(ways))
    seen, length = _met(sight, np.repeat(starts, shape[1], axis=0), np.tile(ways, (shape[0], 1)))
    outlook = Outlook(
        starts,
        ways,
        seen.reshape(shape),
        np.full(shape, -1, np.int32),
        length.reshape(shape),
        subs.parent,
    )
    return replace(outlook, sub=_subs_at(outlook, subs))


def past_bodies(outlook: Outlook, sight: Sight, low_m: Floats, high_m: Floats) -> Outlook:
    """Put more bodies, within a box each, shape (bodies, 3) [m], before what is seen."""
    with np.errstate(divide="ignore"):
        per = 1 / outlook.ways
    rays = np.zeros(outlook.seen.shape, np.bool_)
    for low, high in zip(low_m.astype(np.float32), high_m.astype(np.float32), strict=True):
        enter = np.zeros(rays.shape, np.float32)
        leave = outlook.length_m.copy()
        for k in range(3):
            a = (low[k] - outlook.starts_m[:, k, None]) * per[:, k]
            b = (high[k] - outlook.starts_m[:, k, None]) * per[:, k]
            np.maximum(enter, np.minimum(a, b), out=enter)
            np.minimum(leave, np.maximum(a, b), out=leave)
        rays |= enter <= leave
    point, ray = np.nonzero(rays)
    seen, length = _met(sight, outlook.starts_m[point], outlook.ways[ray])
    nearer = length < outlook.length_m[point, ray]
    at = (point[nearer], ray[nearer])
    out = replace(
        outlook, seen=outlook.seen.copy(), sub=outlook.sub.copy(), length_m=outlook.length_m.copy()
    )
    out.seen[at], out.sub[at], out.length_m[at] = seen[nearer], -1, length[nearer]
    return out


def _met(sight: Sight, starts_m: Floats32, ways: Floats32) -> tuple[Ints, Floats32]:
    """Patch that each ray meets, -1 where none or its back, and how far away. [m]"""
    if not len(ways):
        return np.zeros(0, np.int32), np.zeros(0, np.float32)
    met = sight.scene.run(starts_m, ways, output=True)
    face = np.asarray(met["primID"])
    found = face >= 0
    length = np.where(found, met["tfar"], np.inf).astype(np.float32)
    front = np.einsum("nk,nk->n", ways, sight.normals[face]) < 0
    patch = np.where(found & front, sight.patch[face], -1)
    return patch.astype(np.int32), length


def _subs_at(outlook: Outlook, subs: SubPatches) -> Ints:
    """Sub-patch that each ray meets; -1 for patches that are not cut."""
    point, ray = np.nonzero((outlook.seen >= 0) & (subs.start[outlook.seen] >= 0))
    first = subs.start[outlook.seen[point, ray]]
    place = outlook.starts_m[point] + outlook.ways[ray] * outlook.length_m[point, ray, None]
    # from the corner of the first sub-patch, along the sides of its row and of its column
    corners = subs.corners_m[first]
    place -= corners[:, 0]
    number = []
    for k in (3, 1):
        side = corners[:, k] - corners[:, 0]
        share = np.einsum("nk,nk->n", place, side) / np.einsum("nk,nk->n", side, side)
        number.append(np.clip(share.astype(np.int32), 0, SPLIT - 1))
    out = np.full(outlook.seen.shape, -1, np.int32)
    out[point, ray] = first + number[0] * SPLIT + number[1]
    return out


def shares_by_factors(outlook: Outlook, gather: Gather) -> Outlook:
    """Let rays stand for the form factors of what they meet, not for even shares.

    Parameters
    ----------
    outlook : Outlook
        What points see.
    gather : Gather
        Of the same points: form factors to patches, and to near sub-patches.

    Notes
    -----
    A bright strip a few centimetres wide, as where a run meets the side wall, is met by one ray
    or none; as an even share of its bin that was half or twice what it sends. So rays that meet
    a near sub-patch share its form factor, and those that meet a patch bring what its other
    sub-patches send as well. The shares sum to 1 in each bin: light that is the same all over
    stays so. Points that a body covers look as the nearest one in the open does.
    """
    points, patches = gather.factors.shape
    if gather.buried is not None and len(gather.buried.pairs):
        to, of = gather.buried.nearest.T
        seen, sub, length = outlook.seen.copy(), outlook.sub.copy(), outlook.length_m.copy()
        seen[to], sub[to], length[to] = seen[of], sub[of], length[of]
        outlook = replace(outlook, seen=seen, sub=sub, length_m=length)
    turns = around_rad().size
    even = np.diff(np.sin(np.radians(EDGES_DEG)) ** 2) / (turns * ACROSS * UP)
    even = np.tile(np.repeat(even, ACROSS * UP), turns)
    own = np.arange(points, dtype=np.int32)[:, None]
    met = outlook.seen >= 0
    each = SPLIT**2
    first = gather.near[::each]
    parts = gather.near_factors.reshape(-1, each)
    table = np.full((points, patches + 1), -1, np.int32)
    table[first[:, 0], outlook.parent[first[:, 1]]] = np.arange(len(first))
    pair = table[own, outlook.seen]
    near = pair >= 0
    sub = pair[near] * each + outlook.sub[near] - first[pair[near], 1]
    reached = _sums(sub, np.broadcast_to(even, near.shape)[near], parts.size)
    weight = _over(gather.near_factors, reached)
    others = np.where(reached.reshape(parts.shape) > 0, np.float32(0), parts)
    whole = np.maximum(parts.sum(axis=1), np.float32(1e-12))
    share = np.ones(outlook.seen.shape, np.float32)
    share[near] = weight[sub]
    # what patches that are far, or are not cut, are met by in all
    far = met & ~near
    key = (own * patches + outlook.seen)[far]
    reached = _sums(key, np.broadcast_to(even, far.shape)[far], points * patches)
    share[far] = _over(gather.factors.ravel(), reached)[key]
    by_bin = share.reshape(points, -1, ACROSS * UP)
    by_bin /= by_bin.sum(axis=2, keepdims=True)
    return replace(
        outlook,
        share=by_bin,
        pair=pair,
        others=(others / whole[:, None]).astype(np.float32),
        near=gather.near[:, 1].reshape(-1, each),
    )


def _sums(where: Ints, part: Floats, count: int) -> Floats:
    out: Floats = np.bincount(where, part, count).astype(np.float64)
    return out


def _over(factors: Floats32, reached: Floats) -> Floats32:
    """How much of its form factor each ray's even share stands for."""
    out = np.divide(factors, reached, out=np.ones(reached.size), where=reached > 0)
    clipped: Floats32 = np.clip(out, 1 / MOST_SHARE, MOST_SHARE).astype(np.float32)
    return clipped


def by_direction(
    outlook: Outlook,
    exitance: Floats32,
    excess: Floats32,
    directed: Sequence[Directed] = (),
) -> Floats32:
    """Light at a wall's points by bins of direction, shape (points, bins, bands). [lm/m2]

    Parameters
    ----------
    outlook : Outlook
        What the points see.
    exitance, excess, directed
        As `Gather.at_points` has them.
    """
    level, finer = (
        np.concatenate([light, np.zeros_like(light[:1])]) for light in (exitance, excess)
    )  # -1: nothing is met
    light = level[outlook.seen]
    if outlook.pair is None or outlook.others is None or outlook.near is None:
        light += finer[outlook.sub]
    else:
        others = np.einsum("nsb,ns->nb", excess[outlook.near], outlook.others)
        rest = 1 - outlook.others.sum(axis=1)
        near = np.flatnonzero(outlook.pair >= 0)
        pair = outlook.pair.ravel()[near]
        parts = finer[outlook.sub.ravel()[near]] * rest[pair][:, None] + others[pair]
        light.reshape(-1, light.shape[2])[near] += parts
    for one in directed:
        own = place_in(one.patches, outlook.seen, len(exitance))
        point, ray = np.nonzero(own >= 0)
        if not point.size:
            continue
        patch = own[point, ray]
        way = -outlook.ways.astype(np.float64) @ one.axes
        part = place_in(one.subs, outlook.sub[point, ray], len(excess))
        parts = np.concatenate([one.excess, np.zeros_like(one.excess[:1])])
        terms = one.exitance[patch] + parts[part]
        shown = np.einsum("nk,nkb->nb", terms_of(way)[ray], terms)
        if one.beyond is not None:
            beyond = one.beyond
            cell = cells_of(way)[ray] + beyond.zone[patch] * np.int32(beyond.table.shape[1])
            more = np.take(beyond.table.reshape(-1, beyond.table.shape[2]), cell, axis=0)
            shown += (more - beyond.offset[patch]) * beyond.exitance[patch]
        light[point, ray] = shown
    rays = light.reshape(len(light), -1, ACROSS * UP, light.shape[2])
    even = np.full((1, 1, ACROSS * UP), 1 / (ACROSS * UP), np.float32)
    share = even if outlook.share is None else outlook.share
    out: Floats32 = np.einsum("pcrb,pcr->pcb", rays, np.broadcast_to(share, rays.shape[:3]))
    return out


def nearness(outlook: Outlook, surface: Surface) -> Floats32:
    """One over how far away along a wall's plane lies what is seen, (points, azimuths). [1/m]

    Parameters
    ----------
    outlook : Outlook
        What the wall's points see.
    surface : Surface
        The wall, with relief. Nothing counts as nearer than its greatest height over
        `MOST_MOVED`.

    Notes
    -----
    From a height h over the plane, what lies at the elevation x and the distance d along the plane
    is seen at tan x - h/d. Low down x changes the most, so low rays count the most: by cos(x)^4,
    the derivative that the light through a slice has.
    """
    assert surface.relief is not None
    highest_m = max(float(np.abs(surface.relief.heights_m).max()), LIFT_M)
    high = outlook.ways @ surface.frame.n.astype(np.float32)
    low = np.sqrt(1 - high**2)
    width = np.repeat(np.diff(np.radians(EDGES_DEG)), ACROSS * UP).astype(np.float32)
    weights = low.reshape(around_rad().size, -1) ** 4 * width
    per = np.minimum(1 / (outlook.length_m * low), np.float32(MOST_MOVED / highest_m))
    out: Floats32 = (per.reshape(-1, *weights.shape) * weights).sum(axis=2) / weights.sum(axis=1)
    return out
