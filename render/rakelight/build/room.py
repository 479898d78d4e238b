"""The box room: six planar surfaces with inward normals, relief where a wall has one.

Plan, seen from above; the origin is the floor corner at the lower left:

    y ^  +------ main ------+      every wall's u runs to the right for someone who stands
      |  |                  |      in the room and faces it; v is up; n points inward
      | left              right
      |  |                  |
      o  +---- opposite ----+
      o------> x
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.sources import texture_of
from rakelight.errors import InputError
from rakelight.read.toml import SceneFile
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.quality import Quality
from rakelight.scene.relief import ReflectanceMap
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import SURFACES, RoomTable, SceneTables

Floats = NDArray[np.float64]

# EN 12464-1 gives ranges: ceiling 0.7 to 0.9, walls 0.5 to 0.8, floor 0.2 to 0.4
USUAL_REFLECTANCE = {"floor": 0.2, "ceiling": 0.8}
USUAL_WALL_REFLECTANCE = 0.5

_X, _Y, _Z = np.eye(3)


def box_frames(room: RoomTable) -> dict[str, tuple[Frame, float, float]]:
    """Frame, width along u and height along v of each surface of a box room.

    Parameters
    ----------
    room : RoomTable
        The room's sizes.

    Returns
    -------
    dict of str to (Frame, float, float)
        By surface name, u x v = n, n inward. [m]
    """
    w, d, h = room.width_m, room.depth_m, room.height_m
    return {
        "main": (Frame(np.array([0, d, 0.0]), _X, _Z, -_Y), w, h),
        "opposite": (Frame(np.array([w, 0, 0.0]), -_X, _Z, _Y), w, h),
        "left": (Frame(np.array([0, 0, 0.0]), _Y, _Z, _X), d, h),
        "right": (Frame(np.array([w, d, 0.0]), -_Y, _Z, -_X), d, h),
        "floor": (Frame(np.array([0, 0, 0.0]), _X, _Y, _Z), w, d),
        "ceiling": (Frame(np.array([0, d, h]), _X, -_Y, -_Z), w, d),
    }


def build_room(scene_file: SceneFile, quality: Quality) -> Room:
    """Build the surfaces of a scene's room, without light groups and bodies.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    quality : Quality
        Steps of the grids.

    Returns
    -------
    Room
        Its surfaces; `groups` and `bodies` are empty.

    Raises
    ------
    InputError
        If a texture cannot be read.
    """
    tables = scene_file.tables
    surfaces = {
        name: _plane(name, frame, width, height, tables, quality)
        for name, (frame, width, height) in box_frames(tables.room).items()
    }
    faults: list[str] = []
    for index, table in enumerate(tables.relief):
        bare = surfaces[table.on]
        stated = getattr(tables.surface, table.on).reflectance
        try:
            texture = texture_of(scene_file, index, reflectance=table.reflectance or stated)
        except InputError as error:
            faults.extend(error.faults)
            continue
        from rakelight.build.wall import relief_on_wall

        relief, reflectance_map = relief_on_wall(
            texture,
            bare.grid.width_m,
            bare.grid.height_m,
            quality.mesh_step_m,
            offset_uv_m=table.offset_m,
        )
        surfaces[table.on] = replace(
            bare,
            grid=relief.grid,
            relief=relief,
            reflectance_map=reflectance_map,
            reflectance_rgb=mean_reflectance(reflectance_map),
        )
    if faults:
        raise InputError(*faults)
    return Room(surfaces=tuple(surfaces[name] for name in SURFACES), groups=())


def mean_reflectance(reflectance_map: ReflectanceMap) -> Floats:
    """Mean of a map in linear Rec.709, shape (3,) (IEC 61966-2-1)."""
    code = np.arange(256) / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    counts = np.stack(
        [np.bincount(reflectance_map.encoded[..., c].ravel(), minlength=256) for c in range(3)]
    )
    mean: Floats = counts @ linear / counts.sum(axis=1) * reflectance_map.scale
    return mean


def _plane(
    name: str, frame: Frame, width: float, height: float, tables: SceneTables, quality: Quality
) -> Surface:
    finish = getattr(tables.surface, name)
    usual = USUAL_REFLECTANCE.get(name, USUAL_WALL_REFLECTANCE)
    reflectance = finish.reflectance or (usual,) * 3
    other = finish.other_light_lx
    if other is None:
        other = getattr(tables.other_light, f"{name}_lx")
    if other is None:
        other = tables.other_light.all_lx
    return Surface(
        name=name,
        frame=frame,
        corners_uv_m=np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64),
        grid=Grid.with_step(width, height, quality.plane_step_m),
        reflectance_rgb=np.array(reflectance, np.float64),
        other_light_lx=other,
    )
