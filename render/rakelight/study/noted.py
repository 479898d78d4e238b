"""A scene with what its light leaves out said among its notes."""

from dataclasses import replace

from rakelight.light.visibility import shading_notes
from rakelight.scene.scene import Scene


def with_shading_notes(scene: Scene) -> Scene:
    """Return the scene, its notes followed by what shades it in ways that are not counted.

    Parameters
    ----------
    scene : Scene
        Built.
    """
    room = scene.room
    notes = dict.fromkeys((*scene.notes, *shading_notes(room, room.lines())))
    return replace(scene, notes=tuple(notes))
