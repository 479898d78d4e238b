"""Direct light of the runs on single places that no surface's grid holds: faces of meshes."""

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from rakelight.light.faces import Shades, blocking_faces
from rakelight.light.meshes import cast_triangles
from rakelight.light.past_faces import light_points
from rakelight.light.visibility import Nearby
from rakelight.scene.surfaces import Room

Floats = NDArray[np.float64]


def light_on_places(
    room: Room, points_m: Floats, normals: Floats, steps: int = 32
) -> NDArray[np.float32]:
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
    nothing = Shades(
        np.zeros((0, 4, 3)),
        np.zeros((0, 5), np.bool_),
        np.zeros(2, np.int32),
        np.zeros(0, np.int32),
        np.zeros((1, 1), np.int32),
    )
    everywhere = np.ones(len(points_m), np.bool_)
    faces = blocking_faces(room)
    cast = cast_triangles(room)
    out = np.zeros((len(room.groups), len(points_m)), np.float32)
    for g, group in enumerate(room.groups):
        for line in group.lines:
            corners = faces.without("", line).corners_m
            triangles = np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]], cast])
            near = None
            if len(triangles):
                scene = EmbreeScene()
                TriangleMesh(scene, np.ascontiguousarray(triangles, np.float32))
                near = Nearby(scene, everywhere[None])
            out[g] += light_points(
                line,
                points_m,
                normals,
                nothing,
                np.zeros(len(points_m), np.int32),
                steps,
                near=near,
                close=everywhere,
            )
    return out
