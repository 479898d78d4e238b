"""Stills of several scenes at one exposure: drawn once each, shaded, exposed together."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.bounce import Balance, bounce, prepare_bounce
from rakelight.light.direct import direct
from rakelight.light.on_bodies import light_on_bodies
from rakelight.light.prepare import past_the_runs, prepare
from rakelight.measure import MeasureSettings, measure_surface
from rakelight.measure.of_runs import measure_runs
from rakelight.measure.painting import painting_numbers
from rakelight.measure.room_light import RoomLight
from rakelight.measure.work_plane import HEIGHT_M
from rakelight.picture.detail import details
from rakelight.picture.draw import draw
from rakelight.picture.exposure import automatic_ev100
from rakelight.picture.false_colour import Scale, illuminance_lx, palette, scale_of
from rakelight.picture.finish import finishes, reflectances
from rakelight.picture.gloss import sheens
from rakelight.picture.shade import Picture, develop, shade
from rakelight.picture.tone import WHITE
from rakelight.picture.view import View
from rakelight.picture.white import DEGREE, adaptation, balanced, white_of
from rakelight.scene.camera import Camera
from rakelight.scene.lit import Lit
from rakelight.scene.number import Number
from rakelight.scene.scene import Scene
from rakelight.scene.white import white_rgb
from rakelight.study.alongside import alongside, at_once
from rakelight.study.noted import with_shading_notes
from rakelight.study.section_checks import eye_numbers

Progress = Callable[[str], None]


def quiet(step: str) -> None:
    """Say nothing: the progress of those who do not ask for any."""


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """One camera's view of a lit scene."""

    camera: Camera
    view: View
    picture: Picture
    illuminance_lx: NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class LitScene:
    """A scene with its light, numbers and shots; the balance of its bounced light, if any."""

    scene: Scene
    lit: Lit
    numbers: tuple[Number, ...]
    shots: tuple[Shot, ...]
    balance: Balance | None = None

    @property
    def lit_surfaces(self) -> tuple[str, ...]:
        """Names of the surfaces that the runs are for; `main` where there is no run."""
        names = dict.fromkeys(
            line.lights for group in self.scene.room.groups for line in group.lines
        )
        return tuple(names) or ("main",)


def measure_settings(scene: Scene) -> MeasureSettings:
    """What the scene states for its measures, and the eye of its camera in the room."""
    stated = scene.tables.measure
    eyes = [one for one in scene.cameras if one.name == "seat"] or list(scene.cameras)
    x, y, z = (float(value) for value in eyes[0].eye_m)
    return MeasureSettings(
        top_m=stated.top_m,
        foot_m=stated.foot_m,
        grid_spacing_m=stated.grid_m,
        eye_m=(x, y, z),
        groups=scene.room.groups,
    )


def measure(scene: Scene, lit: Lit | RoomLight) -> tuple[Number, ...]:
    """All numbers of all surfaces, in SI units; the lit surfaces come first."""
    light = lit if isinstance(lit, RoomLight) else RoomLight(scene.room, lit)
    settings = measure_settings(scene)
    wanted = list(dict.fromkeys(line.lights for group in scene.room.groups for line in group.lines))
    names = wanted + [s.name for s in scene.room.surfaces if s.name not in wanted and not s.blocks]
    found = tuple(
        number
        for name in names
        for number in measure_surface(scene.room.surface(name), light.of(name), settings)
    )
    height = scene.tables.measure.work_plane_m or HEIGHT_M
    return (
        *found,
        *painting_numbers(scene.paintings, scene.room, light.lit),
        *measure_runs(scene.room, scene.runs, light, work_plane_m=height),
        *eye_numbers(scene),
    )


def light_scene(scene: Scene, cameras: Sequence[str] = (), progress: Progress = quiet) -> LitScene:
    """Light, measure and draw one scene.

    Parameters
    ----------
    scene : Scene
        A scene.
    cameras : sequence of str
        Names of the cameras wanted; all of the scene's if empty.
    progress : callable
        Told what is done next.

    Raises
    ------
    ValueError
        If the scene has no camera of a name.
    """
    known = {camera.name: camera for camera in scene.cameras}
    for name in cameras:
        if name not in known:
            raise ValueError(f"no camera {name!r} in {scene.name}; there are {list(known)}")
    scene = with_shading_notes(scene)
    progress(f"{scene.name}: horizons of the relief")
    prepared = prepare(scene.room, scene.quality)
    progress(f"{scene.name}: light of the runs")
    bounces, balance = scene.quality.bounce, None
    with alongside() as submit:
        room_part = submit(prepare_bounce, past_the_runs(prepared)) if bounces else None
        lit = direct(prepared, bounced=bounces)
        del prepared  # what is drawn next takes the place of its horizons
        progress(f"{scene.name}: views")
        views = [
            draw(scene.room, known[name], scene.quality.supersample)
            for name in cameras or tuple(known)
        ]
        finish = finishes(scene.room)
        stones = []
        for view in views:
            # here as long as the other thread is busy with what must be waited for
            busy = room_part is not None and not room_part.done()
            do = at_once if busy else submit
            stones.append(do(reflectances, view.ids, view.u_m, view.v_m, scene.room, finish))
        submit(palette)  # slow to load, and now the other thread has time
        if room_part is not None:
            progress(f"{scene.name}: light from surface to surface")
            around = room_part.result()
            lit, balance = bounce(around, lit, light_on_bodies(around))
            del around, room_part
        progress(f"{scene.name}: numbers and pictures")
        numbers = submit(measure, scene, lit)
        values_lx = [submit(illuminance_lx, view, scene.room, lit) for view in views]
        sheen, detail = sheens(scene.room, lit), details(scene.room, lit)
        matrix = adaptation(*white(scene))
        shots = []
        for view, stone, lux in zip(views, stones, values_lx, strict=True):
            picture = shade(view, scene.room, lit, finish, sheen, detail, stone.result())
            picture = balanced(picture, matrix)
            shots.append(Shot(view.camera, view, picture, lux.result()))
        return LitScene(scene, lit, numbers.result(), tuple(shots), balance)


def white(scene: Scene) -> tuple[NDArray[np.float64], float]:
    """The colour of a scene's white, and how far an eye turns it to the screen's."""
    stated = scene.tables.picture.white_k
    if stated == "auto":
        return white_of(scene.room.groups), float(DEGREE)
    return white_rgb(float(stated)), 1.0


def exposure(stills: Sequence[LitScene]) -> tuple[float, bool]:
    """EV100 for all shots of all scenes together, and whether it was chosen by the pictures.

    A stated exposure holds if all the scenes state the same one.
    """
    stated = {still.scene.tables.picture.ev100 for still in stills}
    if len(stated) == 1 and "auto" not in stated:
        return float(stated.pop()), False
    readings = [
        shot.picture.of(shot.view, still.lit_surfaces) for still in stills for shot in still.shots
    ]
    return automatic_ev100(readings, WHITE), True


def scale(stills: Sequence[LitScene]) -> Scale:
    """One false-colour scale for all shots of all scenes together, from the lit surfaces."""
    return scale_of([shot.illuminance_lx for still in stills for shot in still.shots])


def codes(shot: Shot, ev100: float) -> NDArray[np.uint8]:
    """A shot's sRGB codes at an exposure, shape (rows, columns, 3)."""
    return develop(shot.picture, ev100)
