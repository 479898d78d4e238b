"""A scene file, built: room, runs, bodies, and what to say about them."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from rakelight.build.bodies import HOUSING_REFLECTANCE, figure, housing_cheeks, run_bodies
from rakelight.build.faces import Finish
from rakelight.build.fitting import fit_faults
from rakelight.build.glossy import gloss_warnings
from rakelight.build.groups import light_groups
from rakelight.build.mounting import NOTHING_TO_LIE_ON
from rakelight.build.openings import Cut
from rakelight.build.room import FINER, BareRoom, build_bare_room, plain_room
from rakelight.build.runs import BuiltRun, build_runs
from rakelight.build.seen import sight_warnings
from rakelight.build.views import build_cameras
from rakelight.build.warnings import near_field_notes, warnings_of
from rakelight.errors import InputError
from rakelight.read.toml import SceneFile, read_scene
from rakelight.scene.quality import Quality
from rakelight.scene.scene import Scene
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.tables import SceneTables


def quality_of(tables: SceneTables) -> Quality:
    """Return the quality that a scene states.

    Parameters
    ----------
    tables : SceneTables
        The scene.
    """
    quality = tables.quality
    return Quality(
        mesh_step_m=quality.mesh_step_m,
        plane_step_m=quality.plane_step_m,
        azimuths=quality.azimuths,
        steps=quality.steps,
        bounce=quality.bounce,
        supersample=tables.picture.supersample,
    )


def build_scene(
    path: Path | str, overrides: Sequence[str] = (), *, quality: Quality | None = None
) -> Scene:
    """Read and build a scene.

    Parameters
    ----------
    path : Path or str
        A scene file.
    overrides : sequence of str
        ``KEY=VALUE``, laid over it.
    quality : Quality, optional
        Instead of the scene's own.

    Raises
    ------
    InputError
        With one line for every fault.
    """
    return build_read_scene(read_scene(path, overrides), quality=quality)


def build_read_scene(
    scene_file: SceneFile, *, quality: Quality | None = None, bare_room: BareRoom | None = None
) -> Scene:
    """Build a scene that has been read.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    quality : Quality, optional
        Instead of the scene's own.
    bare_room : BareRoom, optional
        One built before for the same room, reliefs and finishes: a sweep over runs alone
        hands it in again.

    Raises
    ------
    InputError
        With one line for every fault.
    """
    tables = scene_file.tables
    chosen = quality_of(tables) if quality is None else quality
    bare, runs = _room_and_runs(scene_file, chosen, bare_room)
    shell, slots = _slotted(tables, bare.room, runs, chosen)
    finish = Finish(np.full(3, HOUSING_REFLECTANCE), 0.0, chosen.plane_step_m * FINER)
    cheeks = tuple(face for run in runs for face in housing_cheeks(run, finish))
    bare = replace(bare, room=replace(bare.room, surfaces=(*shell, *slots, *cheeks)))
    by_run = [tuple(run_bodies(run)) for run in runs]
    faults = fit_faults(scene_file, bare, runs, by_run)
    if faults:
        raise InputError(*faults)
    bodies = (*(body for ones in by_run for body in ones), *bare.bodies)
    if tables.picture.figure:
        bodies = (*bodies, figure(tables.room))
    plans = tuple(run.plan for run in runs)
    groups = light_groups(plans, [run.line for run in runs])
    room = replace(bare.room, groups=groups, bodies=bodies)
    files = {run.line.intensity.name: run.line.intensity.notes for run in runs}
    notes = [
        *scene_file.notes,
        *bare.notes,
        *(note for run in runs for note in run.notes),
        *(f"{t.title}: {note}" for t in bare.textures.values() for note in t.notes),
        *(f"{name}: {note}" for name, file_notes in files.items() for note in file_notes),
    ]
    cameras = build_cameras(scene_file, room, plans)
    band = (tables.room.height_m, tables.measure.top_m)
    unit = tables.units.length
    notes += near_field_notes(plans, *band, unit)
    return Scene(
        name=scene_file.name,
        title=tables.title or scene_file.name,
        tables=tables,
        room=room,
        runs=plans,
        cameras=cameras,
        quality=chosen,
        notes=tuple(dict.fromkeys(notes)),
        warnings=(
            *warnings_of(room, plans, bare.textures, cameras, *band, unit),
            *sight_warnings(scene_file, room, runs, bare),
            *gloss_warnings(room, runs, cameras, unit),
        ),
        paintings=tuple(one.painting for one in bare.paintings),
    )


def _slotted(
    tables: SceneTables, room: Room, runs: tuple[BuiltRun, ...], quality: Quality
) -> tuple[tuple[Surface, ...], tuple[Surface, ...]]:
    """Cut the runs' slots into the ceiling; runs that share a slot cut it once."""
    surfaces = list(room.surfaces)
    faces: list[Surface] = []
    cut: list[Cut] = []
    for index, run in enumerate(runs):
        if run.slot is None or any(_same(run.slot, other) for other in cut):
            continue
        cut.append(run.slot)
        at = next(i for i, s in enumerate(surfaces) if s.name == "ceiling")
        ceiling = surfaces[at]
        holes = (*ceiling.holes_uv_m, run.slot.hole_uv_m())
        surfaces[at] = replace(ceiling, holes_uv_m=holes)
        table = tables.run[index].slot
        rgb = ceiling.reflectance_rgb
        if table is not None and table.reflectance is not None:
            rgb = np.array(table.reflectance)
        finish = Finish(rgb, tables.other_light.all_lx, quality.plane_step_m * FINER)
        words = ("side 1", "end 1", "side 2", "end 2", "lid")
        faces += run.slot.faces(f"slot {run.plan.tag}", words, finish, finish)
    return tuple(surfaces), tuple(faces)


def _same(one: Cut, other: Cut) -> bool:
    return (
        np.allclose(one.low_m, other.low_m)
        and np.allclose(one.high_m, other.high_m)
        and abs(one.depth_m - other.depth_m) < 1e-9
    )


def _room_and_runs(
    scene_file: SceneFile, quality: Quality, bare_room: BareRoom | None
) -> tuple[BareRoom, tuple[BuiltRun, ...]]:
    """Build both, and where they fail say the faults of both and of the cameras at once."""
    faults: list[str] = []
    try:
        bare = build_bare_room(scene_file, quality) if bare_room is None else bare_room
    except InputError as error:
        faults.extend(error.faults)
        bare = BareRoom(plain_room(scene_file.tables), {})
    try:
        runs = build_runs(scene_file, bare.room, bare.standing)
    except InputError as error:
        # of what could not be built it has been said why; a run that lies on it is not at fault
        faults.extend(f for f in error.faults if not (faults and NOTHING_TO_LIE_ON in f))
    if not faults:
        return bare, runs
    try:
        build_cameras(scene_file, bare.room, ())
    except InputError as error:
        faults.extend(error.faults)
    raise InputError(*faults)
