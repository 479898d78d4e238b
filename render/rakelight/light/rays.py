"""What stands between two places: rays against closed meshes, only where they can matter."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.kernels.between import mark_between, segment_ends
from rakelight.light.patches import Patches
from rakelight.scene.surfaces import Body, Room

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: Rays of a pair to begin with, of `Patches.spread`'s sixteen: one in each quarter of the length
#: and of the width. Only where they disagree are all of them traced.
FIRST = [1, 4, 11, 14]
#: Pairs whose rays are traced at a time: about 100 MB with 16 rays each.
CHUNK = 100_000


@dataclass(frozen=True, slots=True, eq=False)
class Blockers:
    """What can hide a room's surfaces from each other.

    Parameters
    ----------
    scene : object
        The ray tracer's scene; None if nothing can block.
    low_m, high_m : ndarray of float32, shape (bodies, 3)
        Boxes around the bodies. [m]
    surfaces : int
        Number of surfaces; patches of higher owners lie on bodies, and may lie outside.
    all_pairs : bool
        True where surfaces hide each other: a room that is not convex.
    """

    scene: object
    low_m: Floats32
    high_m: Floats32
    surfaces: int
    all_pairs: bool


def blockers(room: Room, bodies: Sequence[Body], patches: Patches) -> Blockers:
    """Gather what can block: the bodies, and the room itself where it is not convex.

    Parameters
    ----------
    room : Room
        Its surfaces.
    bodies : sequence of Body
        Closed meshes.
    patches : Patches
        Of the room and the bodies.
    """
    low = np.array([b.points_m.min(axis=0) for b in bodies]).reshape(-1, 3).astype(np.float32)
    high = np.array([b.points_m.max(axis=0) for b in bodies]).reshape(-1, 3).astype(np.float32)
    everything = not is_convex(room)
    if not bodies and not everything:
        return Blockers(None, low, high, len(room.surfaces), False)
    triangles = [body.points_m[body.faces] for body in bodies]
    fans = np.arange(1, patches.corners_m.shape[1] - 1)
    of_room = patches.corners_m[patches.owner < len(room.surfaces)]
    for k in fans:
        triangles.append(np.stack([of_room[:, 0], of_room[:, k], of_room[:, k + 1]], axis=1))
    scene = EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(np.concatenate(triangles), np.float32))
    return Blockers(scene, low, high, len(room.surfaces), everything)


def is_convex(room: Room) -> bool:
    """Whether every surface sees the whole of every other: then surfaces cannot block."""
    corners = [
        s.frame.to_room(np.column_stack([s.corners_uv_m, np.zeros(len(s.corners_uv_m))]))
        for s in room.surfaces
    ]
    return all(
        bool(((other - s.frame.origin_m) @ s.frame.n).min() >= -1e-6)
        for s in room.surfaces
        for other in corners
    )


def separable(
    what: Blockers,
    starts_m: Floats,
    start_radii_m: Floats,
    patches: Patches,
    wanted: NDArray[np.bool_],
    starts_on_bodies: NDArray[np.bool_] | None = None,
) -> NDArray[np.int32]:
    """Pairs (start, patch) of those wanted that something can come between, shape (n, 2)."""
    if what.scene is None:
        return np.zeros((0, 2), np.int32)
    if what.all_pairs:
        marked = wanted
    else:
        marked = np.zeros(wanted.shape, np.bool_)
        mark_between(
            starts_m.astype(np.float32),
            start_radii_m.astype(np.float32),
            patches.centres_m.astype(np.float32),
            patches.radii_m.astype(np.float32),
            what.low_m,
            what.high_m,
            marked,
        )
        marked[:, patches.owner >= what.surfaces] = True
        if starts_on_bodies is not None:
            marked[starts_on_bodies] = True
        marked &= wanted
    out: NDArray[np.int32] = np.argwhere(marked).astype(np.int32)
    return out


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
        hit = what.scene.run(  # type: ignore[attr-defined]
            start.reshape(-1, 3), way.reshape(-1, 3), dists=length.ravel(), query="OCCLUDED"
        )
        clear = np.asarray(hit).reshape(len(some), rays) < 0
        out[first : first + CHUNK] = clear.mean(axis=1, dtype=np.float32)
    return out
