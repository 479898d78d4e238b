"""What stands between two places: rays, only where something can."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.form_factors import polygon_normal
from rakelight.light.kernels.between import hide_flow, listed_shares, mark_groups, segment_ends
from rakelight.light.patches import Patches, body_polygons
from rakelight.light.places import Places
from rakelight.scene.surfaces import Body, Room

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int32]

#: Segments of a pair to begin with, of `Patches.spread`'s sixteen: those nearest to its corners, so
#: that a narrow shadow does not slip through. Only where they disagree are all of them traced.
FIRST = [0, 3, 12, 15]
#: Pairs whose rays are traced at a time: about 100 MB with 16 rays each.
CHUNK = 100_000
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
        starts.normals,
        ends.centres_m,
        ends.sizes_m,
        ends.group,
        end_points_m,
        ends.normals,
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
    facing = (starts.normals, ends.normals)
    share = visible_share(what, spread, end_points_m, pairs, *facing)
    flow[pairs[:, 0], pairs[:, 1]] *= share
    if upper:
        flow[pairs[:, 1], pairs[:, 0]] *= share


def shares_of_parts(
    what: Blockers,
    points_m: Floats32,
    normal: Floats,
    points: Places,
    patches: Places,
    corners_m: Floats32,
    parent: Ints,
    pairs: Ints,
) -> Floats32:
    """Share that points of one surface see of listed parts of patches, shape (pairs,).

    Parameters
    ----------
    what : Blockers
        What can hide; all of it flat.
    points_m : ndarray of float32, shape (points, 3)
        The points, a little off their surface. [m]
    normal : ndarray of float64, shape (3,)
        Of the surface.
    points, patches : Places
        The same points, and all patches.
    corners_m : ndarray of float32, shape (parts, 4, 3)
        Of the parts. [m]
    parent : ndarray of int32, shape (parts,)
        Patch of each part.
    pairs : ndarray of int32, shape (pairs, 2)
        (point, part).
    """
    out = np.empty(len(pairs), np.float32)
    if len(pairs):
        listed_shares(
            points_m,
            normal.astype(np.float32),
            int(points.group_owners[0]),
            corners_m,
            patches.normals[parent],
            patches.group_owners[patches.group[parent]],
            pairs,
            what.planes,
            what.drops,
            what.edge_starts,
            what.edges_m,
            what.owners,
            out,
        )
    return out


def visible_share(
    what: Blockers,
    starts_m: Floats32,
    ends_m: Floats32,
    pairs: Ints,
    start_normals: Floats32,
    end_normals: Floats32,
) -> Floats32:
    """Share of rays between listed pairs that nothing stops, of those not from behind.

    A few rays decide; only pairs that these find partly hidden get all.

    Parameters
    ----------
    what : Blockers
        What can stop them.
    starts_m, ends_m : ndarray of float32, shape (p, rays, 3), (q, rays, 3)
        Points spread over each start and each end. [m]
    pairs : ndarray of int32, shape (n, 2)
        (start, end).
    start_normals, end_normals : ndarray of float32, shape (p, 3), (q, 3)
        Where each faces.

    Returns
    -------
    ndarray of float32, shape (n,)
        0 hidden, 1 clear.
    """
    if what.scene is None or len(pairs) == 0:
        return np.ones(len(pairs), np.float32)
    facing = (start_normals, end_normals)
    if starts_m.shape[1] > len(FIRST):
        few_starts, few_ends = (np.ascontiguousarray(p[:, FIRST]) for p in (starts_m, ends_m))
        out = _clear_share(what, few_starts, few_ends, pairs, *facing)
        some = ~((out == 0) | (out == 1))
    else:
        out, some = np.empty(len(pairs), np.float32), np.ones(len(pairs), np.bool_)
    out[some] = _clear_share(what, starts_m, ends_m, pairs[some], *facing)
    return np.where(np.isnan(out), np.float32(1), out)


def _clear_share(
    what: Blockers,
    starts_m: Floats32,
    ends_m: Floats32,
    pairs: Ints,
    start_normals: Floats32,
    end_normals: Floats32,
) -> Floats32:
    """Share of all rays of each pair that nothing stops; NaN where none counts."""
    rays = starts_m.shape[1]
    out = np.empty(len(pairs), np.float32)
    for first in range(0, len(pairs), CHUNK):
        some = pairs[first : first + CHUNK]
        start = np.empty((len(some), rays, 3), np.float32)
        way = np.empty_like(start)
        length, counts = np.empty((len(some), rays), np.float32), np.empty((len(some), rays), bool)
        segment_ends(
            some, starts_m, start_normals, ends_m, end_normals, np.int32(0), start, way, length,
            counts,
        )  # fmt: skip
        hit = what.scene.run(
            start.reshape(-1, 3), way.reshape(-1, 3), dists=length.ravel(), query="OCCLUDED"
        )
        clear = np.asarray(hit).reshape(len(some), rays) < 0
        with np.errstate(invalid="ignore"):
            out[first : first + CHUNK] = (counts & clear).sum(axis=1) / counts.sum(axis=1)
    return out
