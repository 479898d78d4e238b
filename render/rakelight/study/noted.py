"""A scene with what its light leaves out among its notes, and its sections' warnings."""

from dataclasses import replace

from rakelight.light.visibility import shading_notes
from rakelight.scene.scene import Scene
from rakelight.study.section_checks import with_section_warnings


def with_shading_notes(scene: Scene) -> Scene:
    """Return the scene, its notes followed by what shades it in ways that are not counted.

    Its warnings are followed by those that its runs' sections give.

    Parameters
    ----------
    scene : Scene
        Built.
    """
    room = scene.room
    notes = dict.fromkeys((*scene.notes, *shading_notes(room, room.lines())))
    return with_section_warnings(replace(scene, notes=tuple(notes)))
