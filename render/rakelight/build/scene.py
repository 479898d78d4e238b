"""A scene file, built: room, runs, bodies, and what to say about them."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from rakelight.build.bodies import figure, run_bodies
from rakelight.build.groups import light_groups
from rakelight.build.room import BareRoom, build_bare_room, plain_room
from rakelight.build.runs import BuiltRun, build_runs
from rakelight.build.views import build_cameras
from rakelight.build.warnings import warnings_of
from rakelight.errors import InputError
from rakelight.read.toml import SceneFile, read_scene
from rakelight.scene.quality import Quality
from rakelight.scene.scene import Scene
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
    bodies = tuple(body for run in runs for body in run_bodies(run))
    if tables.picture.figure:
        bodies = (*bodies, figure(tables.room))
    plans = tuple(run.plan for run in runs)
    groups = light_groups(plans, [run.line for run in runs])
    room = replace(bare.room, groups=groups, bodies=bodies)
    files = {run.line.intensity.name: run.line.intensity.notes for run in runs}
    notes = [
        *scene_file.notes,
        *(note for run in runs for note in run.notes),
        *(f"{t.title}: {note}" for t in bare.textures.values() for note in t.notes),
        *(f"{name}: {note}" for name, file_notes in files.items() for note in file_notes),
    ]
    return Scene(
        name=scene_file.name,
        title=tables.title or scene_file.name,
        tables=tables,
        room=room,
        runs=plans,
        cameras=build_cameras(scene_file, room, plans),
        quality=chosen,
        notes=tuple(dict.fromkeys(notes)),
        warnings=warnings_of(room, plans, bare.textures, tables.room.height_m, tables.units.length),
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
        runs = build_runs(scene_file, bare.room)
    except InputError as error:
        faults.extend(error.faults)
    if not faults:
        return bare, runs
    try:
        build_cameras(scene_file, bare.room, ())
    except InputError as error:
        faults.extend(error.faults)
    raise InputError(*faults)
