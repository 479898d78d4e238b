"""One step of a sweep lit, measured and shaded, with what the step before it left."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from rakelight.light.bounce import PreparedBounce, bounce, prepare_bounce
from rakelight.light.bounce_parts import moved_bounce
from rakelight.light.direct import direct
from rakelight.light.on_bodies import light_on_bodies
from rakelight.light.prepare import Prepared, moved, prepare
from rakelight.measure.ceiling_profile import ceiling_profile
from rakelight.measure.fields import Areas
from rakelight.measure.profile import profile
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import run_section
from rakelight.measure.texture import texture
from rakelight.picture.draw import Backdrop, backdrop_of, draw
from rakelight.picture.finish import Pyramid, finishes, reflectances
from rakelight.picture.shade import Picture, shade
from rakelight.picture.white import adaptation, balanced
from rakelight.scene.camera import Camera
from rakelight.scene.lit import Lit
from rakelight.scene.scene import Scene
from rakelight.scene.surfaces import Room
from rakelight.study.alongside import alongside
from rakelight.study.fingerprint import fingerprint
from rakelight.study.pooled import Reading
from rakelight.study.step import Floats, Step
from rakelight.study.stills import Progress, measure, measure_settings, quiet, white


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What a step hands on to the next, as far as it holds.

    Parameters
    ----------
    prepared, bounced : Prepared or None, PreparedBounce or None
        Horizons and form factors.
    lit : Lit or None
        Direct light at full output,
    places : str
        and the digest of all that it hangs on.
    areas : mapping of str to Areas
        What vertices stand for, by surface.
    finish : mapping of str to Pyramid
        Reflectance maps at every scale, by surface.
    backdrop : Backdrop or None
        The picture without housings,
    reflectance : ndarray of uint16, shape (rows, columns, 3), or None
        and what its samples have of their maps.
    """

    prepared: Prepared | None = None
    bounced: PreparedBounce | None = None
    lit: Lit | None = None
    places: str = ""
    areas: Mapping[str, Areas] = field(default_factory=dict)
    finish: Mapping[str, Pyramid] = field(default_factory=dict)
    backdrop: Backdrop | None = None
    reflectance: NDArray[np.uint16] | None = None


def light_step(
    scene: Scene,
    surface: str,
    camera: Camera | None,
    kept: Kept | None = None,
    progress: Progress = quiet,
) -> tuple[Step, Picture | None, Kept]:
    """Light, measure and shade one step.

    Parameters
    ----------
    scene : Scene
        The step, built.
    surface : str
        The surface whose curves are kept.
    camera : Camera or None
        Where to look from; None: no picture.
    kept : Kept, optional
        From the step before.
    progress : callable
        Told what is done next.

    Returns
    -------
    step : Step
        Its numbers and curves.
    picture : Picture or None
        Scene-linear.
    kept : Kept
        For the next step.
    """
    kept = Kept() if kept is None else kept
    progress("horizons")
    prepared = _prepared(scene, kept.prepared)
    progress("light of the runs")
    places = _places(scene)
    still = kept.lit is not None and places == kept.places
    bounced = None
    if kept.lit is not None and still:
        runs = _dimmed(kept.lit, scene)
        if scene.quality.bounce and kept.bounced is not None:
            bounced = replace(kept.bounced, room=scene.room)
    elif scene.quality.bounce and kept.bounced is None:
        with alongside() as submit:
            found = submit(prepare_bounce, prepared)
            runs = direct(prepared, edges=scene.quality.bounce)
            bounced = found.result()
    else:
        runs = direct(prepared, edges=scene.quality.bounce)
    lit = runs
    if scene.quality.bounce:
        progress("light from surface to surface")
        if bounced is None:
            bounced = _bounced(prepared, kept.bounced)
        lit, _ = bounce(bounced, lit, light_on_bodies(bounced))
    progress("numbers")
    light = RoomLight(scene.room, lit, kept.areas)
    numbers = measure(scene, light)
    curves = _curves(scene, light, surface)
    picture, reading = None, None
    finish, backdrop, reflectance = kept.finish, kept.backdrop, kept.reflectance
    rows = (float("nan"), float("nan"))
    if camera is not None:
        progress("picture")
        if backdrop is None or not backdrop.fits(scene.room, camera, scene.quality.supersample):
            backdrop = backdrop_of(scene.room, camera, scene.quality.supersample)
            reflectance = None
        view = draw(scene.room, camera, scene.quality.supersample, backdrop=backdrop)
        finish = _finish(scene.room, finish)
        if reflectance is None or finish is not kept.finish:
            seen = backdrop.seen
            reflectance = reflectances(seen.ids, seen.u, seen.v, scene.room, finish)
        picture = shade(view, scene.room, lit, finish, reflectance=reflectance)
        picture = balanced(picture, adaptation(*white(scene)))
        reading = Reading.of(picture.of(view, _lit_names(scene)))
        rows = _rows(scene, surface, camera)
    step = Step(
        numbers,
        scene.runs,
        scene.notes,
        scene.warnings,
        curves,
        reading,
        rows,
    )
    areas = light.areas()
    left = Kept(prepared, bounced, runs, places, areas, finish, backdrop, reflectance)
    return step, picture, left


def _places(scene: Scene) -> str:
    """Digest of all that direct light and form factors hang on: not of dim and colour."""
    groups = [group.lines for group in scene.room.groups]
    room = replace(scene.room, groups=())
    return fingerprint(scene.quality, room, groups)


def _dimmed(lit: Lit, scene: Scene) -> Lit:
    """The same runs at other outputs."""
    groups = scene.room.groups
    return replace(
        lit,
        output=np.array([group.output for group in groups], np.float64),
        white_rgb=np.array([group.white_rgb for group in groups], np.float64).reshape(-1, 3),
    )


def _prepared(scene: Scene, before: Prepared | None) -> Prepared:
    if before is not None and before.quality == scene.quality:
        try:
            return moved(before, scene.room)
        except ValueError:  # another relief
            pass
    return prepare(scene.room, scene.quality)


def _bounced(prepared: Prepared, before: PreparedBounce | None) -> PreparedBounce:
    return prepare_bounce(prepared) if before is None else moved_bounce(before, prepared)


def _finish(room: Room, before: Mapping[str, Pyramid]) -> Mapping[str, Pyramid]:
    """The pyramids of a step before, where every surface has the very map that it had there."""
    maps = {s.name: s.reflectance_map for s in room.surfaces if s.reflectance_map is not None}
    same = maps.keys() == before.keys() and all(
        before[name].source is source for name, source in maps.items()
    )
    return before if same else finishes(room)


def _lit_names(scene: Scene) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line.lights for line in scene.room.lines()))


def _rows(scene: Scene, name: str, camera: Camera) -> tuple[float, float]:
    """Where the top and the foot of a wall are in a picture that looks at it square-on. [px]"""
    wall = scene.room.surface(name)
    if abs(float(camera.forward @ wall.frame.n)) < 0.999 or abs(float(wall.frame.n[2])) > 0.5:
        return float("nan"), float("nan")
    size = wall.grid
    ends = np.array([[size.width_m / 2, size.height_m, 0.0], [size.width_m / 2, 0.0, 0.0]])
    top, foot = camera.pixels(wall.frame.to_room(ends))[:, 1]
    return float(top), float(foot)


def _curves(scene: Scene, light: RoomLight, name: str) -> dict[str, Floats]:
    wall = scene.room.surface(name)
    settings = measure_settings(scene)
    if abs(float(wall.frame.n[2])) > 0.5:
        plan = next(plan for plan in scene.runs if plan.lights == name)
        section = run_section(scene.room, plan, scene.room.lines()[plan.line])
        across = ceiling_profile(section, light)
        if across is None or not name.startswith("ceiling"):
            return {}
        return {"distance_m": across.out_m, "across_lx": across.lx}
    gathered = light.of(name)
    curve = profile(gathered, band_m=settings.band_m)
    out = {"height_m": curve.v_m, "flat_lx": curve.flat_lx, "relief_lx": curve.relief_lx}
    if gathered.has_relief:
        grain = texture(gathered, band_m=settings.band_m)
        out |= {
            "modulation_cd_m2": grain.modulation_cd_m2,
            "over_mean": grain.over_mean,
            "smoothed_cd_m2": grain.smoothed_cd_m2,
            "mean_cd_m2": np.array([grain.mean_cd_m2]),
        }
    return out
