"""Direct light of the runs on places that no surface's grid holds: meshes and housings."""

from dataclasses import replace

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.bounce_parts import MOVING, PreparedBounce
from rakelight.light.faces import Faces, Shades, blocking_faces, is_own_housing
from rakelight.light.meshes import cast_triangles
from rakelight.light.past_faces import light_points
from rakelight.light.patches import Patches
from rakelight.light.visibility import Nearby
from rakelight.scene.lit_line import LitLine
from rakelight.scene.surfaces import Room

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: Points along each side of a patch that is nearer to a run than so many of its own radii, and
#: of one that is farther: light hardly changes across that, but for the edges of shadows.
NEAR_RADII, NEAR_POINTS, FAR_POINTS = 8.0, 4, 2
#: Quadrature steps over 180 degrees seen from a place.
STEPS = 32
#: No faces that are cut exactly: rays decide everywhere.
_NOTHING = Shades(
    np.zeros((0, 4, 3)),
    np.zeros((0, 5), np.bool_),
    np.zeros(2, np.int32),
    np.zeros(0, np.int32),
    np.zeros((1, 1), np.int32),
)


def light_on_places(room: Room, points_m: Floats, normals: Floats, steps: int = STEPS) -> Floats32:
    """Illuminance of each group of runs at full output on small faces, past all that blocks.

    Parameters
    ----------
    room : Room
        Its runs, and what stands in their way; other walls' reliefs are left out.
    points_m, normals : ndarray of float64, shape (places, 3)
        Middles of the faces [m], and the side that is asked for.
    steps : int
        Quadrature steps over 180 degrees seen from a place.

    Returns
    -------
    ndarray of float32, shape (groups, places)
        [lx]
    """
    faces, cast = blocking_faces(room), cast_triangles(room)
    out = np.zeros((len(room.groups), len(points_m)), np.float32)
    for g, group in enumerate(room.groups):
        for line in group.lines:
            out[g] += _of_line(line, points_m, normals, faces, cast, steps)
    return out


def light_on_bodies(prepared: PreparedBounce) -> Floats32:
    """Illuminance of each group of runs at full output on the patches of meshes and housings.

    A run's own housing has none of it: a photometric file was measured in its housing, so that
    what this catches and sends on is in the file. A mesh of many triangles is the coarser one
    that stands in for it in reflected light, here in its own shadow too.

    Parameters
    ----------
    prepared : PreparedBounce
        Of a room with its runs where they are.

    Returns
    -------
    ndarray of float32, shape (groups, patches on bodies)
        Means over the patches, as `bounce` takes them. [lx]
    """
    room = prepared.room
    out = np.zeros((len(room.groups), int(prepared.on_bodies.sum())), np.float32)
    if not out.size:
        return out
    housings = tuple(body for body in room.bodies if body.kind in MOVING)
    bodies = (*prepared.fixed.bodies, *housings)
    stands = replace(room, bodies=bodies)
    faces, cast = blocking_faces(stands), cast_triangles(stands)
    at = np.flatnonzero(prepared.on_bodies)
    owner = prepared.patches.owner[at] - len(room.surfaces)
    names = [body.name for body in bodies]
    for g, group in enumerate(room.groups):
        for line in group.lines:
            own = np.array([is_own_housing(name, line) for name in names])
            meant = np.flatnonzero(~own[owner])
            out[g, meant] += _on_patches(line, _part(prepared.patches, at[meant]), faces, cast)
    return out


def _part(patches: Patches, which: NDArray[np.int64]) -> Patches:
    """Some of the patches."""
    arrays = ("corners_m", "counts", "centres_m", "normals", "areas_m2", "radii_m", "owner")
    return replace(patches, **{name: getattr(patches, name)[which] for name in arrays})


def _on_patches(line: LitLine, patches: Patches, faces: Faces, cast: Floats) -> Floats32:
    """Mean illuminance of each patch. [lx]"""
    out = np.zeros(patches.count, np.float32)
    near = _distance_m(line, patches.centres_m) < NEAR_RADII * patches.radii_m
    for part, count in ((near, NEAR_POINTS), (~near, FAR_POINTS)):
        if not part.any():
            continue
        some = _part(patches, np.flatnonzero(part))
        points, shares = some.samples(count)
        points_m = points.reshape(-1, 3).astype(np.float64)
        normals = np.repeat(some.normals, points.shape[1], axis=0)
        used = shares.reshape(-1) > 0
        lx = np.zeros(used.size, np.float32)
        lx[used] = _of_line(line, points_m[used], normals[used], faces, cast, STEPS)
        out[part] = (lx.reshape(shares.shape) * shares).sum(axis=1)
    return out


def _of_line(
    line: LitLine, points_m: Floats, normals: Floats, faces: Faces, cast: Floats, steps: int
) -> Floats32:
    """Illuminance of one run at full output past what stands in between, shape (points,). [lx]"""
    out = np.zeros(len(points_m), np.float32)
    before = np.flatnonzero(_faces_run(line, points_m, normals))
    free = _light(line, points_m[before], normals[before], steps, None)
    lit = before[free > 0]
    corners = faces.without("", line).corners_m
    triangles = np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]], cast])
    if not (len(triangles) and lit.size):
        out[before] = free
        return out
    scene = EmbreeScene()
    TriangleMesh(scene, np.ascontiguousarray(triangles, np.float32))
    out[lit] = _light(line, points_m[lit], normals[lit], steps, scene)
    return out


def _light(
    line: LitLine, points_m: Floats, normals: Floats, steps: int, scene: EmbreeScene | None
) -> Floats32:
    everywhere = np.ones(len(points_m), np.bool_)
    near = None if scene is None else Nearby(scene, everywhere[None])
    tiles = np.zeros(len(points_m), np.int32)
    return light_points(
        line, points_m, normals, _NOTHING, tiles, steps, near=near, close=everywhere
    )


def _faces_run(line: LitLine, points_m: Floats, normals: Floats) -> Mask:
    """Which places have some of a run's opening in front of them."""
    half = line.opening_width_m / 2 * line.across
    ends = line.origin_m + line.lit_m[[0, -1], [0, 1]][:, None] * line.axis
    corners = np.concatenate([ends - half, ends + half])
    over = (corners @ normals.T).max(axis=0)
    out: Mask = over > np.einsum("ij,ij->i", points_m, normals)
    return out


def _distance_m(line: LitLine, points_m: Floats) -> Floats:
    """From points to a run's lit lengths, gaps between them taken as lit. [m]"""
    away = points_m - line.origin_m
    along = away @ line.axis
    nearest = np.clip(along, line.lit_m[0, 0], line.lit_m[-1, 1])
    out: Floats = np.linalg.norm(away - nearest[:, None] * line.axis, axis=1)
    return out
