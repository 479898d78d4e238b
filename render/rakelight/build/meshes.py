"""Bodies from files, placed in the room."""

import math

import numpy as np
from numpy.typing import NDArray

from rakelight.build.standing import USUAL, tag_of
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.meshes import Mesh, read_mesh
from rakelight.read.toml import SceneFile
from rakelight.scene.surfaces import Body
from rakelight.units import LengthUnit, say_length

#: Corners closer than this share of a mesh's size are one.
SAME_PLACE = 1e-6
#: More triangles than this are furniture that nobody lights with; light and pictures take long.
MOST_TRIANGLES = 200_000
#: What a mesh that is not closed is taken as where the scene says so.
SHEET = "not closed: a thin sheet, as stated; both its sides shade, are lit and reflect"


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
        loose = open_edges(mesh)
        if len(loose) and not table.thin_sheet:
            says = _open_fault(points, loose, tables.units.length)
            faults.append(stated_fault(scene_file.stated, (*where, "file"), says))
            continue
        said = (*mesh.notes, SHEET) if len(loose) else mesh.notes
        rgb = np.array(table.reflectance or (USUAL["mesh"],) * 3)
        thin = len(loose) > 0
        bodies.append(Body(f"mesh {tag}", "mesh", points, mesh.faces, rgb, thin=thin))
        notes.extend(f"mesh {tag}: {note}" for note in said)
    if faults:
        raise InputError(*faults)
    return tuple(bodies), tuple(notes)


def open_edges(mesh: Mesh) -> NDArray[np.int64]:
    """Edges that belong to one triangle alone: where a mesh is not closed.

    Corners that lie in one place count as one: STL files share none.

    Parameters
    ----------
    mesh : Mesh
        As it was read.

    Returns
    -------
    ndarray of int64, shape (n, 2)
        The ends of each, as indices into its points, in the order of its triangles.
    """
    size = float(np.ptp(mesh.points_m, axis=0).max())
    raster = np.round(mesh.points_m / (SAME_PLACE * size)).astype(np.int64)
    _, place = np.unique(raster, axis=0, return_inverse=True)
    ends = mesh.faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    edges = np.sort(place.reshape(-1)[ends], axis=1)
    edges = edges[:, 0] * (len(place) + 1) + edges[:, 1]
    _, which, uses = np.unique(edges, return_inverse=True, return_counts=True)
    out: NDArray[np.int64] = ends[uses[which.reshape(-1)] == 1]
    return out


def _open_fault(points_m: NDArray[np.float64], loose: NDArray[np.int64], unit: LengthUnit) -> str:
    x, y, z = (say_length(float(at), unit) for at in points_m[loose[0]].mean(axis=0))
    many = f"{len(loose):,} edges belong" if len(loose) > 1 else "1 edge belongs"
    return (
        f"not closed: {many} to one triangle alone, the first at [{x}, {y}], {z} above "
        "the floor. Close it, or state thin_sheet = true if it is one."
    )
