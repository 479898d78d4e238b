"""Bodies from files, placed in the room."""

import math

import numpy as np

from rakelight.build.standing import USUAL, tag_of
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.meshes import Mesh, read_mesh
from rakelight.read.toml import SceneFile
from rakelight.scene.surfaces import Body
from rakelight.units import say_length

#: Corners closer than this share of a mesh's size are one.
SAME_PLACE = 1e-6
#: More triangles than this are furniture that nobody lights with; light and pictures take long.
MOST_TRIANGLES = 200_000


def build_meshes(scene_file: SceneFile) -> tuple[tuple[Body, ...], tuple[str, ...]]:
    """Read and place the meshes of a scene.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.

    Returns
    -------
    bodies : tuple of Body
        Of the kind ``mesh``.
    notes : tuple of str
        What was assumed or left out.

    Raises
    ------
    InputError
        If a file cannot be read, or its body does not fit the room.
    """
    tables = scene_file.tables
    bodies: list[Body] = []
    notes: list[str] = []
    faults: list[str] = []
    for index, table in enumerate(tables.mesh):
        tag = tag_of("mesh", index, table.tag)
        where = ("mesh", index)
        path = scene_file.folder_of(*where, "file") / table.file
        if not path.is_file():
            says = "no such file. A path starts at the folder of the file that states it."
            faults.append(stated_fault(scene_file.stated, (*where, "file"), says))
            continue
        try:
            mesh = read_mesh(path, table.unit, up=table.up, most_triangles=MOST_TRIANGLES)
        except InputError as error:
            faults.extend(error.faults)
            continue
        cos, sin = math.cos(table.turn_rad), math.sin(table.turn_rad)
        turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
        points = mesh.points_m @ turn.T
        low, high = points.min(axis=0), points.max(axis=0)
        points = points - [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, low[2]]
        points = points + np.array([*table.at_m, table.above_floor_m])
        low, high = points.min(axis=0), points.max(axis=0)
        room = tables.room
        size = np.array([room.width_m, room.depth_m, room.height_m])
        if (low < -1e-6).any() or (high > size + 1e-6).any():
            wide = " x ".join(say_length(float(x), tables.units.length) for x in high - low)
            says = f"cuts through the room's walls or ceiling; it is {wide} large. Check its unit."
            faults.append(stated_fault(scene_file.stated, where, says))
            continue
        rgb = np.array(table.reflectance or (USUAL["mesh"],) * 3)
        bodies.append(Body(f"mesh {tag}", "mesh", points, mesh.faces, rgb))
        notes.extend(f"mesh {tag}: {note}" for note in (*mesh.notes, *sheet_notes(mesh)))
    if faults:
        raise InputError(*faults)
    return tuple(bodies), tuple(notes)


def sheet_notes(mesh: Mesh) -> tuple[str, ...]:
    """Say how a mesh that is not closed is taken.

    Corners that lie in one place count as one: STL files share none.
    """
    size = float(np.ptp(mesh.points_m, axis=0).max())
    raster = np.round(mesh.points_m / (SAME_PLACE * size)).astype(np.int64)
    _, place = np.unique(raster, axis=0, return_inverse=True)
    faces = place.reshape(-1)[mesh.faces]
    edges = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    _, uses = np.unique(edges, axis=0, return_counts=True)
    open_edges = int((uses == 1).sum())
    if not open_edges:
        return ()
    return (
        f"not closed ({open_edges:,} edges belong to one triangle alone): taken as a thin sheet, "
        "which shades from both sides and reflects from the side that its triangles face",
    )
