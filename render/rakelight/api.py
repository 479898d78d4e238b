"""The steps of a still as plain functions: load, light, measure, draw.

>>> from rakelight import api                                        # doctest: +SKIP
>>> scene = api.load("ticket-hall-graze.toml", ["run.G1.setback=6in"])  # doctest: +SKIP
>>> lit = api.light(scene)                                           # doctest: +SKIP
>>> numbers = api.measure(scene, lit)                                # doctest: +SKIP
>>> view = api.draw(scene, "seat")                                   # doctest: +SKIP
>>> picture = api.shade(scene, view, lit)                            # doctest: +SKIP

`light` is `prepare` (what depends on the room alone) and `direct` (the rest): keep what
`prepare` returns where only runs change.
"""

from collections.abc import Sequence
from pathlib import Path

from rakelight.build.scene import build_scene
from rakelight.light.direct import direct
from rakelight.light.prepare import Prepared
from rakelight.light.prepare import prepare as prepare_room
from rakelight.picture.draw import draw as draw_view
from rakelight.picture.shade import Picture
from rakelight.picture.shade import shade as shade_view
from rakelight.picture.view import View
from rakelight.scene.camera import Camera
from rakelight.scene.lit import Lit
from rakelight.scene.scene import Scene
from rakelight.study.stills import measure

__all__ = ["camera", "draw", "light", "load", "measure", "prepare", "shade"]


def load(path: str | Path, overrides: Sequence[str] = ()) -> Scene:
    """Read and build a scene file.

    Parameters
    ----------
    path : str or Path
        The scene.
    overrides : sequence of str
        ``KEY=VALUE`` laid over it, as the command line's ``--set``.

    Raises
    ------
    InputError
        With one line for every fault.
    """
    return build_scene(path, overrides)


def prepare(scene: Scene) -> Prepared:
    """Horizons, normals and openness: what every setback, tilt, file and dim level shares."""
    return prepare_room(scene.room, scene.quality)


def light(scene: Scene, prepared: Prepared | None = None) -> Lit:
    """Illuminance on every vertex of every surface.

    Parameters
    ----------
    scene : Scene
        A scene.
    prepared : Prepared, optional
        From `prepare` of a scene with the same room and reliefs.
    """
    return direct(prepare(scene) if prepared is None else prepared, scene.room.groups)


def camera(scene: Scene, name: str) -> Camera:
    """Return the scene's camera of that name; ValueError if there is none."""
    for one in scene.cameras:
        if one.name == name:
            return one
    raise ValueError(f"no camera {name!r}; there are {[one.name for one in scene.cameras]}")


def draw(scene: Scene, camera_name: str) -> View:
    """Draw the scene from one of its cameras; serves any number of pictures."""
    return draw_view(scene.room, camera(scene, camera_name), scene.quality.supersample)


def shade(scene: Scene, view: View, lit: Lit) -> Picture:
    """Scene-linear picture of a view in this light. [cd/m2]"""
    return shade_view(view, scene.room, lit)
