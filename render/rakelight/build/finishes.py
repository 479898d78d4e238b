"""Finishes on the room's surfaces: a map of reflectance where the scene names one."""

from collections.abc import Mapping
from dataclasses import replace

from rakelight.build.sources import finish_of
from rakelight.build.wall import mean_reflectance, reflectance_on_wall
from rakelight.errors import InputError
from rakelight.read.toml import SceneFile
from rakelight.scene.surfaces import Surface


def finished(
    scene_file: SceneFile, surfaces: Mapping[str, Surface]
) -> tuple[dict[str, Surface], tuple[str, ...]]:
    """Put the stated finishes on the shell's surfaces, before reliefs are.

    Parameters
    ----------
    scene_file : SceneFile
        The scene.
    surfaces : mapping of str to Surface
        The shell; the planes of a pitched ceiling share one finish.

    Returns
    -------
    surfaces : dict of str to Surface
        Those with a finish carry its map, its mean and, unless the scene states one, its gloss.
    notes : tuple of str
        What had to be assumed.

    Raises
    ------
    InputError
        One line a fault.
    """
    out = dict(surfaces)
    notes: list[str] = []
    faults: list[str] = []
    for name, surface in surfaces.items():
        key = "ceiling" if name.startswith("ceiling") else name
        table = getattr(scene_file.tables.surface, key)
        if table.finish is None:
            continue
        try:
            finish = finish_of(scene_file, key, table.finish, reflectance=table.reflectance)
        except InputError as error:
            faults.extend(error.faults)
            continue
        size = surface.corners_uv_m.max(axis=0)
        map_ = reflectance_on_wall(finish, float(size[0]), float(size[1]), (0.0, 0.0))
        out[name] = replace(
            surface,
            reflectance_map=map_,
            reflectance_rgb=mean_reflectance(map_),
            gloss=finish.gloss if table.gloss is None else table.gloss,
        )
        notes.extend(f"{finish.title}: {note}" for note in finish.notes)
    if faults:
        raise InputError(*dict.fromkeys(faults))
    return out, tuple(dict.fromkeys(notes))
