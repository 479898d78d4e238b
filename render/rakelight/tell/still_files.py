"""All files of a still, by name: pictures, tables, numbers."""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

from rakelight.measure.ceiling_profile import CeilingProfile, ceiling_profile
from rakelight.measure.fields import fields
from rakelight.measure.profile import profile
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import run_section
from rakelight.measure.texture import texture
from rakelight.picture.false_colour import Scale
from rakelight.picture.white import TO_XYZ
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Caveat, Scene
from rakelight.study.stills import LitScene, Shot, codes, measure_settings, white
from rakelight.tell.caption import Exposed, bounce_line, caption
from rakelight.tell.paintings import painting_lines, painting_warnings
from rakelight.tell.reflected import reflected_lines, reflected_record
from rakelight.tell.resolved import resolved_record
from rakelight.tell.sentences import sentence
from rakelight.tell.shown import Units, state_of
from rakelight.tell.stations import grid_of
from rakelight.tell.still import exr, false_colour_png, png
from rakelight.tell.tables import (
    across_csv,
    by_height_csv,
    meter_grid_csv,
    numbers_json,
    run_table_csv,
)
from rakelight.tell.values import Station, Written, placed, values_png

#: A surface whose normal rises or falls more than this is told across, not by height.
SLOPES = 0.5


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
    still: LitScene,
    exposed: Exposed,
    scale: Scale,
    *,
    with_exr: bool = False,
    stations: Sequence[Station] = (),
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
    stations : sequence of Station
        Also write pictures with the values at these places, ``NAME.CAMERA.values.png``.

    Returns
    -------
    mapping of str to bytes
        ``NAME.CAMERA.png``, ``NAME.CAMERA.illuminance.png``, ``NAME.grid.csv``,
        ``NAME.by-height.csv``, or ``NAME.across.csv`` of a ceiling (for the first lit surface;
        further ones carry its name),
        ``NAME.runs.csv``, ``NAME.json``, ``NAME.txt``.
    """
    scene = still.scene
    units = units_of(scene)
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
            made[f"{stem}.exr"] = exr(shot.picture.rgb_cd_m2, exr_attributes(still, shot, exposed))
        if stations:
            written = placed(shot.view, stations, units.illuminance)
            said_of = values_line(still, stations, written)
            made[f"{stem}.values.png"] = values_png(codes(shot, exposed.ev100), written, said_of)
        return made

    with ThreadPoolExecutor(2) as pool:  # encoding leaves the interpreter to others
        shown = pool.map(pictures, still.shots)
        tables = surface_tables(still, units)
        for made in shown:
            out |= made
    out |= tables
    if scene.runs:
        out[f"{scene.name}.runs.csv"] = run_table_csv(scene.runs, units)
    said = [
        sentence(still.numbers, plan_for(scene, name), units, name) for name in still.lit_surfaces
    ]
    lines = caption_of(still, exposed)
    told = [*said, "", *lines, *reflected_lines(still.balance)]
    out[f"{scene.name}.txt"] = ("\n".join(told) + "\n").encode()
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
            "reflected_light": reflected_record(still.balance),
            "stations": [
                {"surface": s.surface, "at_m": list(s.at_m), "illuminance_lx": s.lx}
                for s in stations
            ],
            "resolved": resolved_record(scene),
        },
    )
    return out


def surface_tables(still: LitScene, units: Units) -> dict[str, bytes]:
    """Meter grid and curve of every lit surface, as CSV files."""
    scene, settings = still.scene, measure_settings(still.scene)
    out: dict[str, bytes] = {}
    for index, name in enumerate(still.lit_surfaces):
        gathered = fields(scene.room.surface(name), still.lit)
        stem = scene.name if index == 0 else f"{scene.name}.{name}"
        grid = grid_of(gathered, settings)
        out[f"{stem}.grid.csv"] = meter_grid_csv(grid, units, state_of(scene.runs))
        across = across_of(still, name)
        if across is not None:
            out[f"{stem}.across.csv"] = across_csv(across, units)
        else:
            heights = by_height_csv(profile(gathered), texture(gathered), units)
            out[f"{stem}.by-height.csv"] = heights
    return out


def values_line(still: LitScene, stations: Sequence[Station], written: Sequence[Written]) -> str:
    """What the numbers on a picture are, and how many of them it does not show."""
    scene = still.scene
    where = ", ".join(dict.fromkeys(station.surface for station in stations))
    hidden = len(stations) - len(written)
    left_out = f" {hidden} of {len(stations)} are hidden or crowded here." if hidden else ""
    return (
        f"{scene.title}. Illuminance in {units_of(scene).illuminance} on the mean plane of "
        f"{where}, as a meter held to it reads, {state_of(scene.runs)}.{left_out}"
    )


def exr_attributes(still: LitScene, shot: Shot, exposed: Exposed) -> Mapping[str, str | float]:
    """What others need to regrade a picture: scene, units, exposure, white, bounced light."""
    scene = still.scene
    stated = scene.tables.picture.white_k
    rgb, degree = white(scene)
    xyz = TO_XYZ @ rgb
    x, y = (float(value) for value in xyz[:2] / xyz.sum())
    return {
        "scene": scene.name,
        "title": scene.title,
        "camera": shot.camera.name,
        "units": "cd/m2",
        "state": state_of(scene.runs),
        "ev100": float(exposed.ev100),
        "whitePoint": "auto: the light of the runs" if stated == "auto" else f"{stated:g} K",
        "whitePointX": x,
        "whitePointY": y,
        "adaptationToD65": float(degree),
        "bouncedLight": "included" if scene.quality.bounce else "not included",
    }


def across_of(still: LitScene, name: str) -> CeilingProfile | None:
    """Light across a ceiling in its run's section; None for walls, which have heights."""
    scene = still.scene
    plan = plan_for(scene, name)
    if plan is None or abs(float(scene.room.surface(name).frame.n[2])) < SLOPES:
        return None
    section = run_section(scene.room, plan, scene.room.lines()[plan.line])
    return ceiling_profile(section, RoomLight(scene.room, still.lit))


def plan_for(scene: Scene, surface: str) -> RunPlan | None:
    """Return the first run that lights a surface, if any."""
    return next((plan for plan in scene.runs if plan.lights == surface), None)
