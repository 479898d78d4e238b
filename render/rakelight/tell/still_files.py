"""All files of a still, by name: pictures, tables, numbers."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor

from rakelight.measure.fields import fields
from rakelight.measure.grid import meter_grid
from rakelight.measure.profile import profile
from rakelight.measure.texture import texture
from rakelight.picture.false_colour import Scale
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Caveat, Scene
from rakelight.study.stills import LitScene, Shot, codes, measure_settings
from rakelight.tell.caption import Exposed, bounce_line, caption
from rakelight.tell.paintings import painting_lines, painting_warnings
from rakelight.tell.resolved import resolved_record
from rakelight.tell.sentences import sentence
from rakelight.tell.shown import Units, state_of
from rakelight.tell.still import exr, false_colour_png, png
from rakelight.tell.tables import by_height_csv, meter_grid_csv, numbers_json, run_table_csv


def units_of(scene: Scene) -> Units:
    """Units in which the scene's reader thinks."""
    return Units(scene.length_unit, scene.illuminance_unit)


def caption_of(still: LitScene, exposed: Exposed | None, camera: str = "") -> tuple[str, ...]:
    """Every caption line of a still; its main surface is the first that the runs light."""
    scene = still.scene
    units = units_of(scene)
    hung = painting_lines(scene.paintings, still.numbers, units)
    return caption(
        scene.title,
        still.numbers,
        scene.runs,
        units,
        surfaces=scene.room.surfaces,
        exposed=exposed,
        camera=camera,
        warnings=warnings_of(still),
        notes=(*hung, bounce_line(scene.quality.bounce), *scene.notes),
        main=still.lit_surfaces[0],
    )


def warnings_of(still: LitScene) -> tuple[Caveat, ...]:
    """What the scene warns of, and what its light does."""
    scene = still.scene
    bright = painting_warnings(scene.paintings, still.numbers, units_of(scene))
    return (*scene.warnings, *bright)


def still_files(
    still: LitScene, exposed: Exposed, scale: Scale, *, with_exr: bool = False
) -> Mapping[str, bytes]:
    """Make the files of a still.

    Parameters
    ----------
    still : LitScene
        A lit scene with its shots.
    exposed : Exposed
        The exposure, shared by everything that is compared.
    scale : Scale
        The false-colour scale, shared likewise.
    with_exr : bool
        Also write scene-linear pictures in cd/m2.

    Returns
    -------
    mapping of str to bytes
        ``NAME.CAMERA.png``, ``NAME.CAMERA.illuminance.png``, ``NAME.grid.csv``,
        ``NAME.by-height.csv`` (for the first lit surface; further ones carry its name),
        ``NAME.runs.csv``, ``NAME.json``, ``NAME.txt``.
    """
    scene = still.scene
    units = units_of(scene)
    settings = measure_settings(scene)
    out: dict[str, bytes] = {}

    def pictures(shot: Shot) -> dict[str, bytes]:
        stem = f"{scene.name}.{shot.camera.name}"
        short = (f"{scene.title}, camera {shot.camera.name}. {state_of(scene.runs).capitalize()}.",)
        made = {
            f"{stem}.png": png(codes(shot, exposed.ev100)),
            f"{stem}.illuminance.png": false_colour_png(
                shot.illuminance_lx, scale, unit=units.illuminance, caption=short
            ),
        }
        if with_exr:
            made[f"{stem}.exr"] = exr(shot.picture.rgb_cd_m2)
        return made

    with ThreadPoolExecutor(2) as pool:  # encoding leaves the interpreter to others
        for made in pool.map(pictures, still.shots):
            out |= made
    for index, name in enumerate(still.lit_surfaces):
        gathered = fields(scene.room.surface(name), still.lit)
        stem = scene.name if index == 0 else f"{scene.name}.{name}"
        grid = meter_grid(
            gathered, spacing_m=settings.grid_spacing_m, border_m=settings.grid_border_m
        )
        out[f"{stem}.grid.csv"] = meter_grid_csv(grid, units, state_of(scene.runs))
        out[f"{stem}.by-height.csv"] = by_height_csv(profile(gathered), texture(gathered), units)
    if scene.runs:
        out[f"{scene.name}.runs.csv"] = run_table_csv(scene.runs, units)
    said = [
        sentence(still.numbers, plan_for(scene, name), units, name) for name in still.lit_surfaces
    ]
    lines = caption_of(still, exposed)
    out[f"{scene.name}.txt"] = ("\n".join([*said, "", *lines]) + "\n").encode()
    out[f"{scene.name}.json"] = numbers_json(
        scene.name,
        still.numbers,
        scene.runs,
        scene.room.groups,
        more={
            "title": scene.title,
            "sentences": said,
            "exposure": {
                "ev100": exposed.ev100,
                "automatic": exposed.automatic,
                "shared_by": exposed.shared_by,
            },
            "caption": list(lines),
            "resolved": resolved_record(scene),
        },
    )
    return out


def plan_for(scene: Scene, surface: str) -> RunPlan | None:
    """Return the first run that lights a surface, if any."""
    return next((plan for plan in scene.runs if plan.lights == surface), None)
