"""The room: its shell with relief and openings, and what stands or hangs in it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.build.areas import Area, composed, masked, overlapping, trued
from rakelight.build.faces import join_shell
from rakelight.build.finishes import finished
from rakelight.build.meshes import build_meshes
from rakelight.build.openings import Opening, build_openings, cut_openings, inside_convex
from rakelight.build.paintings import BuiltPainting, build_paintings, with_murals
from rakelight.build.shell import Plane, shell
from rakelight.build.sources import texture_of
from rakelight.build.standing import Standing, build_standing
from rakelight.build.wall import mean_reflectance, relief_on_wall, softened_notes
from rakelight.errors import InputError
from rakelight.read.faults import stated_fault
from rakelight.read.toml import SceneFile
from rakelight.scene.frame import Frame
from rakelight.scene.grid import Grid
from rakelight.scene.quality import Quality
from rakelight.scene.surfaces import Body, Room, Surface
from rakelight.scene.tables import RoomTable, SceneTables
from rakelight.scene.texture import Texture
from rakelight.units import say_length

Floats = NDArray[np.float64]

# EN 12464-1 gives ranges: ceiling 0.7 to 0.9, walls 0.5 to 0.8, floor 0.2 to 0.4
USUAL_REFLECTANCE = {"floor": 0.2, "ceiling": 0.8}
USUAL_WALL_REFLECTANCE = 0.5
# about 8 GB with horizons and light; a 4.8 x 2.7 m wall may be as fine as 0.5 mm
MOST_VERTICES = 60e6
#: Rows and columns together that a relief may have: horizons count places on them in 32 bits.
MOST_LINES = 65_000
#: Steps of the grids of what stands in the room, over those of its planes.
FINER = 0.5


def box_frames(room: RoomTable) -> dict[str, tuple[Frame, float, float]]:
    """Frame, width along u and height along v of each surface of the shell.

    Parameters
    ----------
    room : RoomTable
        The room's sizes.

    Returns
    -------
    dict of str to (Frame, float, float)
        By surface name, u x v = n, n inward. [m]
    """
    return {name: (p.frame, p.width_m, p.height_m) for name, p in shell(room).items()}


@dataclass(frozen=True, slots=True, eq=False)
class BareRoom:
    """A room without its runs: what stays the same while runs are moved.

    Parameters
    ----------
    room : Room
        Its surfaces; `groups` and `bodies` are empty.
    textures : mapping of str to Texture
        What each wall with a relief was made from, by surface name; of several areas the first.
    standing : tuple of Standing
        What stands or hangs in it.
    openings : tuple of Opening
        Doors, windows and niches.
    bodies : tuple of Body
        Meshes from files.
    notes : tuple of str
        What was assumed about them.
    paintings : tuple of BuiltPainting
        What hangs on its walls, or is painted on them.
    """

    room: Room
    textures: Mapping[str, Texture]
    standing: tuple[Standing, ...] = ()
    openings: tuple[Opening, ...] = ()
    bodies: tuple[Body, ...] = ()
    notes: tuple[str, ...] = field(default=())
    paintings: tuple[BuiltPainting, ...] = ()


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
        If a texture cannot be read, a step makes too many vertices, or something does not fit.
    """
    tables = scene_file.tables
    planes = _shell(scene_file)
    _check_steps(scene_file, planes, quality)
    surfaces = _planes(tables, planes, quality)
    faults: list[str] = []
    openings: tuple[Opening, ...] = ()
    standing: tuple[Standing, ...] = ()
    bodies: tuple[Body, ...] = ()
    notes: tuple[str, ...] = ()
    paintings: tuple[BuiltPainting, ...] = ()
    textures: dict[str, Texture] = {}
    step = quality.plane_step_m * FINER
    try:
        openings = build_openings(scene_file, surfaces, step)
    except InputError as error:
        faults.extend(error.faults)
    try:
        standing = build_standing(scene_file, step)
    except InputError as error:
        faults.extend(error.faults)
    try:
        paintings = build_paintings(scene_file, surfaces, openings, step)
    except InputError as error:
        faults.extend(error.faults)
    try:
        bodies, notes = build_meshes(scene_file)
    except InputError as error:
        faults.extend(error.faults)
    try:
        surfaces, finish_notes = finished(scene_file, surfaces)
        notes = (*notes, *finish_notes)
        surfaces, textures = _relieved(scene_file, surfaces, quality)
        notes += softened_notes(surfaces)
    except InputError as error:
        faults.extend(error.faults)
    if faults:
        raise InputError(*faults)
    standing += tuple(one.standing for one in paintings if one.standing is not None)
    notes += tuple(one.note for one in paintings if one.note)
    cut = cut_openings(with_murals(surfaces, paintings), openings)
    inner = [face for one in standing for face in one.faces]
    outer, inner = join_shell(list(cut.values()), inner)
    inner += [face for opening in openings for face in opening.faces]
    room = Room(surfaces=(*(masked(surface) for surface in outer), *inner), groups=())
    return BareRoom(room, textures, standing, openings, bodies, notes, paintings)


def plain_room(tables: SceneTables) -> Room:
    """Build the shell alone, coarse and without reliefs: enough to see where things stand.

    Parameters
    ----------
    tables : SceneTables
        The scene.
    """
    size = max(tables.room.width_m, tables.room.depth_m, tables.room.height_m)
    try:
        planes = shell(tables.room)
    except ValueError:
        planes = shell(tables.room.model_copy(update={"ceiling": None}))
    surfaces = _planes(tables, planes, Quality(plane_step_m=size))
    return Room(surfaces=tuple(surfaces.values()), groups=())


def _shell(scene_file: SceneFile) -> dict[str, Plane]:
    room = scene_file.tables.room
    try:
        return shell(room)
    except ValueError as error:
        key = str(error)
        says = (
            "the ridge must lie inside the room."
            if key == "ridge_at"
            else "must be above the straight line between the two eaves, or the ceiling folds "
            "inward."
        )
        raise InputError(stated_fault(scene_file.stated, ("room", "ceiling", key), says)) from None


def _relieved(
    scene_file: SceneFile, surfaces: dict[str, Surface], quality: Quality
) -> tuple[dict[str, Surface], dict[str, Texture]]:
    """Put the reliefs on the walls, and set walls out of true."""
    tables = scene_file.tables
    out = dict(surfaces)
    textures: dict[str, Texture] = {}
    areas: dict[str, list[Area]] = {}
    faults: list[str] = []
    for index, table in enumerate(tables.relief):
        bare = surfaces[table.on]
        finish = getattr(tables.surface, table.on).reflectance
        own = table.reflectance or (finish if table.area is None else None)
        try:
            texture = texture_of(scene_file, index, reflectance=own)
            textures.setdefault(table.on, texture)
            if table.area is not None:
                area = Area(table, texture)
                _check_area(scene_file, index, area, bare, areas.setdefault(table.on, []))
                areas[table.on].append(area)
                continue
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
        out[table.on] = replace(
            bare,
            grid=relief.grid,
            relief=relief,
            reflectance_map=reflectance_map,
            reflectance_rgb=mean_reflectance(reflectance_map),
        )
    if faults:
        raise InputError(*faults)
    for name, texture in textures.items():
        if getattr(tables.surface, name).gloss is None:
            out[name] = replace(out[name], gloss=texture.gloss)
    for name, ones in areas.items():
        relief, reflectance_map = composed(surfaces[name], ones, quality.mesh_step_m)
        out[name] = replace(
            out[name],
            grid=relief.grid,
            relief=relief,
            reflectance_map=reflectance_map,
            reflectance_rgb=mean_reflectance(reflectance_map),
        )
    for name in ("main", "opposite", "left", "right"):
        finish = getattr(tables.surface, name)
        out[name] = trued(out[name], finish.lean_m, finish.bow_m, quality.plane_step_m)
    return out, textures


def _check_area(
    scene_file: SceneFile, index: int, area: Area, wall: Surface, others: list[Area]
) -> None:
    unit = scene_file.tables.units.length
    low, high = area.bounds_m()
    size = wall.corners_uv_m.max(axis=0)
    corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    if not inside_convex(corners, wall.corners_uv_m, 1e-6):
        says = (
            f'reaches beyond the "{area.table.on}" wall, which is '
            f"{say_length(float(size[0]), unit)} wide and {say_length(float(size[1]), unit)} high."
        )
        raise InputError(stated_fault(scene_file.stated, ("relief", index, "area"), says))
    clash = overlapping([*others, area])
    if clash is not None:
        other = others[clash[1]].table
        says = f'overlaps the relief "{other.tag or other.on}". Move or narrow one of them.'
        raise InputError(stated_fault(scene_file.stated, ("relief", index, "area"), says))


def _planes(
    tables: SceneTables, planes: Mapping[str, Plane], quality: Quality
) -> dict[str, Surface]:
    return {name: _plane(name, plane, tables, quality) for name, plane in planes.items()}


def _check_steps(scene_file: SceneFile, planes: Mapping[str, Plane], quality: Quality) -> None:
    """Refuse a step that would fill the memory rather than fail in the middle of a run."""
    having = {table.on for table in scene_file.tables.relief}
    faults = []
    for key, step, names in (
        ("mesh_step", quality.mesh_step_m, having),
        ("plane_step", quality.plane_step_m, set(planes) - having),
    ):
        area = sum(planes[name].width_m * planes[name].height_m for name in names)
        least = (area / MOST_VERTICES) ** 0.5
        if step < least:
            unit = scene_file.tables.units.length
            says = (
                f"makes {area / step**2 / 1e6:.0f} million vertices; "
                f"use {say_length(least, unit, rounding='up')} or more."
            )
            faults.append(stated_fault(scene_file.stated, ("quality", key), says))
        elif key == "mesh_step":
            long_m = max((planes[n].width_m + planes[n].height_m for n in names), default=0.0)
            if long_m > MOST_LINES * step:
                least = say_length(
                    long_m / MOST_LINES, scene_file.tables.units.length, rounding="up"
                )
                says = f"makes more than {MOST_LINES:,} rows and columns; use {least} or more."
                faults.append(stated_fault(scene_file.stated, ("quality", key), says))
    if faults:
        raise InputError(*faults)


def _plane(name: str, plane: Plane, tables: SceneTables, quality: Quality) -> Surface:
    key = "ceiling" if name.startswith("ceiling") else name
    finish = getattr(tables.surface, key)
    usual = USUAL_REFLECTANCE.get(key, USUAL_WALL_REFLECTANCE)
    reflectance = finish.reflectance or (usual,) * 3
    other = finish.other_light_lx
    if other is None:
        other = getattr(tables.other_light, f"{key}_lx")
    if other is None:
        other = tables.other_light.all_lx
    return Surface(
        name=name,
        frame=plane.frame,
        corners_uv_m=plane.corners_uv_m,
        grid=Grid.with_step(plane.width_m, plane.height_m, quality.plane_step_m),
        reflectance_rgb=np.array(reflectance, np.float64),
        other_light_lx=other,
        gloss=finish.gloss or 0.0,
    )
