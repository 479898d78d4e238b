"""The cameras of a scene: named ones, adjusted or placed by hand, each with its size."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.cameras import (
    EYE_HEIGHT_M,
    along_camera,
    free_camera,
    front_camera,
    seat_camera,
)
from rakelight.build.shell import ceiling_height_m
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.camera import Camera
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import CameraTable, RoomTable
from rakelight.units import say_length

NAMED = {"front": front_camera, "seat": seat_camera, "along": along_camera}
USUAL = ("front", "seat")
#: For a frame 36 mm wide: 149 degrees across, and a degree.
LENSES_MM = (5.0, 2000.0)
WALLS = ("main", "opposite", "left", "right")
_BOXES = ("bench ", "column ", "panel ", "fascia ", "soffit ")


def build_cameras(
    scene_file: SceneFile, room: Room, plans: tuple[RunPlan, ...]
) -> tuple[Camera, ...]:
    """Build the cameras that a scene states; `front` and `seat` if it states none.

    `along` joins them wherever a run has gaps, because that is where gaps show.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    room : Room
        Its surfaces.
    plans : tuple of RunPlan
        Its runs; named cameras look at the wall that the first one lights.

    Raises
    ------
    InputError
        If a camera of its own name has no place, or looks nowhere.
    """
    tables = list(scene_file.tables.camera) or [CameraTable(name=name) for name in USUAL]
    if any(plan.gap_m > 0 for plan in plans) and "along" not in {t.name for t in tables}:
        tables.append(CameraTable(name="along"))
    wall = room.surface(plans[0].lights if plans else "main")
    picture = scene_file.tables.picture
    cameras: list[Camera] = []
    faults: list[str] = []
    for index, table in enumerate(tables):
        width = table.width_px or picture.width_px
        height = table.height_px or picture.height_px
        if table.lens_mm is not None and not LENSES_MM[0] <= table.lens_mm <= LENSES_MM[1]:
            least, most = LENSES_MM
            says = (
                f"must lie between {least:g} and {most:g}: no flat picture is that wide or narrow."
            )
            faults.append(stated_fault(scene_file.stated, ("camera", index, "lens"), says))
            continue
        try:
            if _is_placed(table):
                outside = _outside(table, scene_file) or _buried(table, scene_file, room)
                if outside is not None:
                    key, says = outside
                    where = ("camera", index, key)
                    faults.append(stated_fault(scene_file.stated, where, says))
                    continue
                cameras.append(_placed(table, scene_file.tables.room, wall, width, height))
            elif table.name in NAMED:
                named = NAMED[table.name](wall, room, width, height)
                cameras.append(_adjusted(named, table))
            else:
                raise ValueError(
                    'has no place. Give "eye" = [x, y, z], or "distance" from the main wall, or '
                    "call it front, seat or along"
                )
        except ValueError as error:
            faults.append(stated_fault(scene_file.stated, ("camera", index, "name"), f"{error}."))
    if faults:
        raise InputError(*faults)
    return tuple(cameras)


def _outside(table: CameraTable, scene_file: SceneFile) -> tuple[str, str] | None:
    """The key that puts a camera outside the room, and what to say; None where it is inside."""
    room, unit = scene_file.tables.room, scene_file.tables.units.length
    eye = _eye_of(table, room)
    keys = ("from_left", "distance", "eye_height")
    if table.eye_m is not None:
        keys = ("eye", "eye", "eye")
    if not 0 <= eye[0] <= room.width_m:
        says = f"outside the room, which is {say_length(room.width_m, unit)} wide."
        return keys[0], says
    if not 0 <= eye[1] <= room.depth_m:
        says = f"outside the room, which is {say_length(room.depth_m, unit)} deep."
        return keys[1], says
    try:
        top = float(ceiling_height_m(room, eye[None])[0])
    except ValueError:  # the room's own fault, said elsewhere
        return None
    if not 0 <= eye[2] <= top:
        where = "below the floor" if eye[2] < 0 else "above the ceiling"
        return keys[2], f"outside the room: {where}, which is {say_length(top, unit)} high there."
    return None


def _buried(table: CameraTable, scene_file: SceneFile, room: Room) -> tuple[str, str] | None:
    """The key that puts a camera into a wall or a body, and what to say."""
    unit = scene_file.tables.units.length
    eye = _eye_of(table, scene_file.tables.room)
    key = "distance" if table.eye_m is None else "eye"
    within: dict[str, list[bool]] = {}
    for surface in room.surfaces:
        off_m = float(surface.frame.from_room(eye)[2])
        if surface.name.startswith(_BOXES):
            # a box is the part of space behind all of its faces
            within.setdefault(" ".join(surface.name.split()[:2]), []).append(off_m < 0)
        elif surface.name in WALLS:
            relief = surface.relief
            highest_m = 0.0 if relief is None else float(relief.heights_m.max())
            if off_m <= highest_m:
                stands = f", whose relief stands out {say_length(highest_m, unit)}"
                return key, (
                    f"in the {surface.name} wall{stands if highest_m > 0 else ''}. Move it into "
                    "the room."
                )
    for thing, behind in within.items():
        if len(behind) > 3 and all(behind):
            return key, f"inside {thing}. Move one of the two."
    return None


def _is_placed(table: CameraTable) -> bool:
    stated = (table.eye_m, table.eye_height_m, table.distance_m, table.from_left_m)
    return any(value is not None for value in stated)


def _placed(
    table: CameraTable, room: RoomTable, wall: Surface, width_px: int, height_px: int
) -> Camera:
    eye = _eye_of(table, room)
    if table.look_at_m is not None:
        look_at = np.array(table.look_at_m)
    else:
        look_at = wall.frame.to_room(np.array([wall.grid.width_m, wall.grid.height_m, 0.0]) / 2)
    return free_camera(
        eye,
        look_at,
        width_px,
        height_px,
        name=table.name,
        lens_mm=24.0 if table.lens_mm is None else table.lens_mm,
        shift_mm=None if table.shift_mm == "upright" else float(table.shift_mm),
    )


def _eye_of(table: CameraTable, room: RoomTable) -> NDArray[np.float64]:
    if table.eye_m is not None:
        return np.array(table.eye_m)
    from_left = room.width_m / 2 if table.from_left_m is None else table.from_left_m
    # as far back as a person can lean against the opposite wall, unless stated
    back = room.depth_m * 0.95 if table.distance_m is None else table.distance_m
    height = EYE_HEIGHT_M if table.eye_height_m is None else table.eye_height_m
    return np.array([from_left, room.depth_m - back, height])


def _adjusted(camera: Camera, table: CameraTable) -> Camera:
    if table.lens_mm is not None:
        camera = replace(camera, lens_mm=table.lens_mm)
    if table.shift_mm != "upright":
        camera = replace(camera, shift_mm=float(table.shift_mm))
    if table.look_at_m is not None:
        raise ValueError('has "look_at" but no place. Give "eye" too, or leave "look_at" out')
    return camera
