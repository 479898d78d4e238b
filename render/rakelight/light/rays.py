"""What stands between two places: rays, only where something can."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.form_factors import polygon_normal
from rakelight.light.kernels.between import hide_flow, mark_groups, segment_ends
from rakelight.light.patches import Patches, body_polygons
from rakelight.scene.surfaces import Body, Room

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Segments of a pair to begin with, of `Patches.spread`'s sixteen: those nearest to its corners, so
#: that a narrow shadow does not slip through. Only where they disagree are all of them traced.
FIRST = [0, 3, 12, 15]
#: Pairs whose rays are traced at a time: about 100 MB with 16 rays each.
CHUNK = 100_000
#: Patches or points along each side of a group.
GROUP = 4
#: A body of more flat faces is one thing, not one for each face.
MOST_FACES = 24
#: Boxes of things are this much smaller: what only touches does not come between. [m]
SHRINK_M = np.float32(2e-6)


@dataclass(frozen=True, slots=True, eq=False)
class Blockers:
    """What can hide places from each other.

    Parameters
    ----------
    scene : object
        The ray tracer's scene, where some of it is not flat; else None.
    low_m, high_m : ndarray of float32, shape (things, 3)
        Boxes around surfaces and around bodies, or their faces. [m]
    planes : ndarray of float32, shape (things, 4)
        Unit normal n and distance d, n . x = d, of what is flat; 0 for what is not.
    owners : ndarray of int32, shape (things,)
        Index of the surface, which never hides its own places; -1 for bodies.
    drops : ndarray of int32, shape (things,)
        The axis along which each flat one is looked at.
    edge_starts : ndarray of int32, shape (things + 1,)
        Where its edges start; none for what is not flat.
    edges_m : ndarray of float64, shape (edges, 4)
        Both ends of each edge in the other two axes. [m]
    """

    scene: Any
    low_m: Floats32
    high_m: Floats32
    planes: Floats32
    owners: Ints
    drops: Ints
    edge_starts: Ints
    edges_m: Floats


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
    """

    centres_m: Floats32
    sizes_m: Floats32
    group: Ints
    group_centres_m: Floats32
    group_sizes_m: Floats32
    group_owners: Ints


def in_groups(low_m: Floats, high_m: Floats, group: Ints, owner: Ints) -> Places:
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
    return in_groups(corners.min(axis=1), corners.max(axis=1), group, patches.owner)


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """One thing that can stand in the way.

    Parameters
    ----------
    points_m : ndarray of float64, shape (k, 3)
        Its corners; of a flat one, its outline in order. [m]
    flat : bool
        Whether it is one polygon.
    holes_m : sequence of ndarray of float64, shape (k, 3)
        Holes of a flat one. [m]
    owner : int
        Index of the surface; -1 for a body.
    """

    points_m: Floats
    flat: bool
    holes_m: Sequence[Floats] = ()
    owner: int = -1


def blockers(things: Sequence[Thing], triangles_m: Sequence[Floats] = ()) -> Blockers:
    """Gather what can block.

    Parameters
    ----------
    things : sequence of Thing
        All of them.
    triangles_m : sequence of ndarray of float64, shape (n, 3, 3)
        The same as triangles, for rays past what is not flat. [m]
    """
    f32 = np.float32
    count = len(things)
    low = np.array([t.points_m.min(axis=0) for t in things]).reshape(-1, 3).astype(f32)
    high = np.array([t.points_m.max(axis=0) for t in things]).reshape(-1, 3).astype(f32)
    thick = high - low > 4 * SHRINK_M
    planes = np.zeros((count, 4), f32)
    drops = np.zeros(count, np.int32)
    edges = [np.zeros((0, 4))]
    starts = [0]
    for k, thing in enumerate(things):
        used = 0
        if thing.flat:
            normal, _ = polygon_normal(thing.points_m)
            planes[k] = [*normal, normal @ thing.points_m.mean(axis=0)]
            drops[k] = int(np.argmax(np.abs(normal)))
            for outline in (thing.points_m, *thing.holes_m):
                flat = np.delete(outline, drops[k], axis=1)
                edges.append(np.concatenate([flat, np.roll(flat, -1, axis=0)], axis=1))
                used += len(flat)
        starts.append(starts[-1] + used)
    scene = None
    if triangles_m and not all(thing.flat for thing in things):
        scene = EmbreeScene()
        TriangleMesh(scene, np.ascontiguousarray(np.concatenate(list(triangles_m)), f32))
    owners = np.array([thing.owner for thing in things], np.int32)
    return Blockers(
        scene,
        (low + SHRINK_M * thick).astype(f32),
        (high - SHRINK_M * thick).astype(f32),
        planes,
        owners,
        drops,
        np.array(starts, np.int32),
        np.concatenate(edges),
    )


def room_blockers(room: Room, bodies: Sequence[Body], patches: Patches) -> Blockers:
    """What of a room and of bodies that stay can hide one place from another.

    Parameters
    ----------
    room : Room
        Its surfaces; those that have everything before them never block.
    bodies : sequence of Body
        Bodies.
    patches : Patches
        Of the surfaces, cut at their holes.
    """
    walls = []
    for number, s in enumerate(room.surfaces):
        if ((patches.corners_m - s.frame.origin_m) @ s.frame.n).min() >= -1e-6:
            continue
        outline, *holes = (
            s.frame.to_room(np.column_stack([flat, np.zeros(len(flat))]))
            for flat in (s.corners_uv_m, *s.holes_uv_m)
        )
        walls.append(Thing(outline, True, holes, number))
    corners = patches.corners_m[patches.owner < len(room.surfaces)]
    triangles = [
        np.stack([corners[:, 0], corners[:, k], corners[:, k + 1]], axis=1)
        for k in range(1, corners.shape[1] - 1)
    ]
    things, faces = _things_of(bodies)
    return blockers([*walls, *things], triangles + faces)


def body_blockers(bodies: Sequence[Body]) -> Blockers:
    """What of some bodies can hide one place from another."""
    return blockers(*_things_of(bodies))


def _things_of(bodies: Sequence[Body]) -> tuple[list[Thing], list[Floats]]:
    things: list[Thing] = []
    for body in bodies:
        faces = body_polygons(body)
        if len(faces) <= MOST_FACES:
            things += [Thing(face, True) for face in faces]
        else:
            things.append(Thing(body.points_m, False))
    return things, [body.points_m[body.faces] for body in bodies]


def hide(
    flow: Floats32,
    what: Blockers,
    starts: Places,
    ends: Places,
    start_points_m: Floats32,
    end_points_m: Floats32,
    upper: bool = False,
) -> None:
    """Take what something hides out of a flow between places, in place.

    Parameters
    ----------
    flow : ndarray of float32, shape (p, q)
        Any measure of the light between them; 0 where there is none anyway.
    what : Blockers
        What can hide.
    starts, ends : Places
        Points or patches, and patches.
    start_points_m, end_points_m : ndarray of float32, shape (p, s, 3), (q, 16, 3)
        Points spread over each; s is 1 or 16. [m]
    upper : bool
        True for one list with itself: each pair is looked at once and set both ways.
    """
    if not len(what.planes) or not flow.size:
        return
    groups = np.zeros(
        (len(starts.group_centres_m), len(ends.group_centres_m), len(what.planes)), np.bool_
    )
    boxes = (what.low_m, what.high_m, what.planes)
    mark_groups(
        starts.group_centres_m,
        starts.group_sizes_m,
        starts.group_owners,
        ends.group_centres_m,
        ends.group_sizes_m,
        ends.group_owners,
        *boxes,
        what.owners,
        groups,
    )
    rest = np.zeros(flow.shape if what.scene is not None else (0, 0), np.bool_)
    hide_flow(
        starts.centres_m,
        starts.sizes_m,
        starts.group,
        start_points_m,
        ends.centres_m,
        ends.sizes_m,
        ends.group,
        end_points_m,
        *boxes,
        what.drops,
        what.edge_starts,
        what.edges_m,
        groups,
        groups.any(axis=2),
        np.array(FIRST, np.int32),
        upper,
        flow,
        rest,
    )
    if what.scene is None:
        return
    pairs = np.argwhere(rest).astype(np.int32)
    rays = end_points_m.shape[1]
    spread = np.repeat(start_points_m, rays // start_points_m.shape[1], axis=1)
    share = visible_share(what, spread, end_points_m, pairs)
    flow[pairs[:, 0], pairs[:, 1]] *= share
    if upper:
        flow[pairs[:, 1], pairs[:, 0]] *= share


def visible_share(
    what: Blockers, starts_m: Floats32, ends_m: Floats32, pairs: NDArray[np.int32]
) -> Floats32:
    """Share of rays between listed pairs that nothing stops.

    A few rays decide; only pairs that these find partly hidden get all.

    Parameters
    ----------
    what : Blockers
        What can stop them.
    starts_m, ends_m : ndarray of float32, shape (p, rays, 3), (q, rays, 3)
        Points spread over each start and each end. [m]
    pairs : ndarray of int32, shape (n, 2)
        (start, end).

    Returns
    -------
    ndarray of float32, shape (n,)
        0 hidden, 1 clear.
    """
    out = np.ones(len(pairs), np.float32)
    if what.scene is None or len(pairs) == 0:
        return out
    rays = starts_m.shape[1]
    if rays <= len(FIRST):
        return _clear_share(what, starts_m, ends_m, pairs)
    few_starts, few_ends = (np.ascontiguousarray(p[:, FIRST]) for p in (starts_m, ends_m))
    out = _clear_share(what, few_starts, few_ends, pairs)
    mixed = (out > 0) & (out < 1)
    out[mixed] = _clear_share(what, starts_m, ends_m, pairs[mixed])
    return out


def _clear_share(
    what: Blockers, starts_m: Floats32, ends_m: Floats32, pairs: NDArray[np.int32]
) -> Floats32:
    """Share of all rays of each pair that nothing stops."""
    rays = starts_m.shape[1]
    out = np.empty(len(pairs), np.float32)
    for first in range(0, len(pairs), CHUNK):
        some = pairs[first : first + CHUNK]
        start = np.empty((len(some), rays, 3), np.float32)
        way = np.empty_like(start)
        length = np.empty((len(some), rays), np.float32)
        segment_ends(some, starts_m, ends_m, np.int32(0), start, way, length)
        hit = what.scene.run(
            start.reshape(-1, 3), way.reshape(-1, 3), dists=length.ravel(), query="OCCLUDED"
        )
        clear = np.asarray(hit).reshape(len(some), rays) < 0
        out[first : first + CHUNK] = clear.mean(axis=1, dtype=np.float32)
    return out
