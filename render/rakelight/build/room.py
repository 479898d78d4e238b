"""The box room: six planar surfaces with inward normals, relief where a wall has one.

Plan, seen from above; the origin is the floor corner at the lower left:

    y ^  +------ main ------+      every wall's u runs to the right for someone who stands
      |  |                  |      in the room and faces it; v is up; n points inward
      | left              right
      |  |                  |
      o  +---- opposite ----+
      o------> x
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.sources import texture_of
from rakelight.build.wall import relief_on_wall
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.quality import Quality
from rakelight.scene.relief import ReflectanceMap
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import SURFACES, RoomTable, SceneTables
from rakelight.scene.texture import Texture
from rakelight.units import say_length

Floats = NDArray[np.float64]

# EN 12464-1 gives ranges: ceiling 0.7 to 0.9, walls 0.5 to 0.8, floor 0.2 to 0.4
USUAL_REFLECTANCE = {"floor": 0.2, "ceiling": 0.8}
USUAL_WALL_REFLECTANCE = 0.5
# about 8 GB with horizons and light; a 4.8 x 2.7 m wall may be as fine as 0.5 mm
MOST_VERTICES = 60e6

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


@dataclass(frozen=True, slots=True, eq=False)
class BareRoom:
    """A room without its runs: what stays the same while runs are moved.

    Parameters
    ----------
    room : Room
        Its surfaces; `groups` and `bodies` are empty.
    textures : mapping of str to Texture
        What each wall with a relief was made from, by surface name.
    """

    room: Room
    textures: Mapping[str, Texture]


def build_room(scene_file: SceneFile, quality: Quality) -> Room:
    """Build the surfaces of a scene's room, without light groups and bodies.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    quality : Quality
        Steps of the grids.

    Raises
    ------
    InputError
        If a texture cannot be read, or a step makes too many vertices.
    """
    return build_bare_room(scene_file, quality).room


def build_bare_room(scene_file: SceneFile, quality: Quality) -> BareRoom:
    """Build what of a scene does not depend on its runs.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    quality : Quality
        Steps of the grids.

    Raises
    ------
    InputError
        If a texture cannot be read, or a step makes too many vertices.
    """
    tables = scene_file.tables
    frames = box_frames(tables.room)
    _check_steps(scene_file, frames, quality)
    surfaces = _planes(tables, quality)
    textures: dict[str, Texture] = {}
    faults: list[str] = []
    for index, table in enumerate(tables.relief):
        bare = surfaces[table.on]
        finish = getattr(tables.surface, table.on).reflectance
        try:
            texture = texture_of(scene_file, index, reflectance=table.reflectance or finish)
            textures[table.on] = texture
            relief, reflectance_map = relief_on_wall(
                texture,
                bare.grid.width_m,
                bare.grid.height_m,
                quality.mesh_step_m,
                offset_uv_m=table.offset_m,
            )
        except InputError as error:
            faults.extend(error.faults)
            continue
        except ValueError as error:
            says = f"{error}."
            faults.append(stated_fault(scene_file.stated, ("relief", index, "offset"), says))
            continue
        surfaces[table.on] = replace(
            bare,
            grid=relief.grid,
            relief=relief,
            reflectance_map=reflectance_map,
            reflectance_rgb=mean_reflectance(reflectance_map),
        )
    if faults:
        raise InputError(*faults)
    room = Room(surfaces=tuple(surfaces[name] for name in SURFACES), groups=())
    return BareRoom(room, textures)


def plain_room(tables: SceneTables) -> Room:
    """Build the box alone, coarse and without reliefs: enough to see where things stand.

    Parameters
    ----------
    tables : SceneTables
        The scene.
    """
    size = max(tables.room.width_m, tables.room.depth_m, tables.room.height_m)
    return Room(surfaces=tuple(_planes(tables, Quality(plane_step_m=size)).values()), groups=())


def _planes(tables: SceneTables, quality: Quality) -> dict[str, Surface]:
    return {
        name: _plane(name, frame, width, height, tables, quality)
        for name, (frame, width, height) in box_frames(tables.room).items()
    }


def _check_steps(
    scene_file: SceneFile, frames: dict[str, tuple[Frame, float, float]], quality: Quality
) -> None:
    """Refuse a step that would fill the memory rather than fail in the middle of a run."""
    having = {table.on for table in scene_file.tables.relief}
    faults = []
    for key, step, names in (
        ("mesh_step", quality.mesh_step_m, having),
        ("plane_step", quality.plane_step_m, set(frames) - having),
    ):
        area = sum(frames[name][1] * frames[name][2] for name in names)
        least = (area / MOST_VERTICES) ** 0.5
        if step < least:
            unit = scene_file.tables.units.length
            says = (
                f"makes {area / step**2 / 1e6:.0f} million vertices; "
                f"use {say_length(least, unit, rounding='up')} or more."
            )
            faults.append(stated_fault(scene_file.stated, ("quality", key), says))
    if faults:
        raise InputError(*faults)


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
