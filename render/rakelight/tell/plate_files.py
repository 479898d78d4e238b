"""The files of a plate: one page as PNG and PDF, and a JSON with every number on it."""

from collections.abc import Mapping, Sequence

from rakelight.measure.ceiling_profile import ceiling_profile
from rakelight.measure.fields import fields
from rakelight.measure.profile import profile
from rakelight.measure.room_light import RoomLight
from rakelight.measure.section_numbers import RunSection, run_section, section_numbers
from rakelight.measure.texture import texture
from rakelight.picture.false_colour import Scale
from rakelight.scene.number import Number
from rakelight.study.stills import LitScene, Shot, codes
from rakelight.tell.caption import (
    Exposed,
    bounce_line,
    light_line,
    other_light_line,
    run_line,
)
from rakelight.tell.cautions import CAUTIONS, NOT_MODELLED
from rakelight.tell.plates.height_charts import draw_across, draw_drama, draw_light
from rakelight.tell.plates.section_chart import draw_small_section
from rakelight.tell.plates.sheet import Chart, Sheet, set_sheet
from rakelight.tell.reflected import reflected_record
from rakelight.tell.section import Drawing
from rakelight.tell.sentences import sentence
from rakelight.tell.still_files import plan_for, units_of
from rakelight.tell.summary import headline
from rakelight.tell.tables import numbers_json

#: Runs that are written out on a page; the run table has all of them.
MOST_RUNS = 3
#: Warnings that are written out on a page.
MOST_WARNINGS = 4


def plate_files(
    still: LitScene, exposed: Exposed, scale: Scale, *, paper: str = "a4", portrait: bool = False
) -> Mapping[str, bytes]:
    """Make the page of one scene.

    Parameters
    ----------
    still : LitScene
        Its first shot is the still, its last the false colour.
    exposed, scale : Exposed, Scale
        Shared by all scenes that are laid side by side.
    paper : str
        As `set_sheet`.
    portrait : bool
        Upright instead of lying.

    Returns
    -------
    mapping of str to bytes
        ``NAME.plate.png``, ``NAME.plate.pdf``, ``NAME.plate.json``.
    """
    scene = still.scene
    section = _section(still)
    sheet = _sheet(still, exposed, scale, section)
    page, dpi = set_sheet(sheet, paper=paper, portrait=portrait)
    stem = f"{scene.name}.plate"
    measured: Sequence[Number] = () if section is None else section_numbers(section)
    return {
        f"{stem}.png": page.bytes("png", dpi=dpi, title=scene.title),
        f"{stem}.pdf": page.bytes("pdf", dpi=dpi, title=scene.title),
        f"{stem}.json": numbers_json(
            scene.name,
            (*still.numbers, *_new(measured, still)),
            scene.runs,
            scene.room.groups,
            more={
                "title": scene.title,
                "sentence": sheet.sentence,
                "exposure": {
                    "ev100": exposed.ev100,
                    "automatic": exposed.automatic,
                    "shared_by": exposed.shared_by,
                },
                "shown": [{"words": words, "value": value} for words, value in sheet.values],
                "installed": list(sheet.runs),
                "caption": list(sheet.caption),
                "reflected_light": reflected_record(still.balance),
            },
        ),
    }


def _new(measured: Sequence[Number], still: LitScene) -> list[Number]:
    known = {number.key for number in still.numbers}
    return [number for number in measured if number.key not in known]


def _section(still: LitScene) -> RunSection | None:
    scene = still.scene
    plan = plan_for(scene, still.lit_surfaces[0])
    if plan is None:
        return None
    return run_section(scene.room, plan, scene.room.lines()[plan.line])


def _sheet(still: LitScene, exposed: Exposed, scale: Scale, section: RunSection | None) -> Sheet:
    scene = still.scene
    units = units_of(scene)
    main = still.lit_surfaces[0]
    shown: Shot = still.shots[0]
    mapped: Shot = still.shots[-1]
    listed = [run_line(plan, units) + "." for plan in scene.runs[:MOST_RUNS]]
    more = len(scene.runs) - MOST_RUNS
    if more > 0:
        listed.append(f"And {more} more: see the run table.")
    unsaid = len(scene.warnings) - MOST_WARNINGS
    cameras = f"Still from camera {shown.camera.name}, false colour from {mapped.camera.name}."
    return Sheet(
        title=scene.title,
        sentence=sentence(still.numbers, plan_for(scene, main), units, main),
        still=codes(shown, exposed.ev100),
        illuminance_lx=mapped.illuminance_lx,
        scale=scale,
        unit=units.illuminance,
        charts=_charts(still, section),
        values=headline(still),
        runs=listed,
        caption=(
            light_line(scene.runs, units, exposed),
            cameras,
            other_light_line(scene.room.surfaces, units),
            bounce_line(scene.quality.bounce),
            *(f"Warning, {w.place}: {w.says}" for w in scene.warnings[:MOST_WARNINGS]),
            *((f"And {unsaid} more warnings: `check` lists them.",) if unsaid > 0 else ()),
        ),
        cautions=(NOT_MODELLED, *CAUTIONS),
    )


def _charts(still: LitScene, section: RunSection | None) -> list[Chart]:
    scene = still.scene
    units = units_of(scene)
    surface = scene.room.surface(still.lit_surfaces[0])
    gathered = fields(surface, still.lit)
    upright = abs(float(surface.frame.n[2])) < 0.5
    charts = []
    if upright:
        found, height = profile(gathered), surface.grid.height_m
        charts.append(
            Chart(lambda axes, how: draw_light(axes, found, units, how, height), 1.0, left_pt=26)
        )
        if surface.relief is not None:
            drama = texture(gathered)
            charts.append(Chart(lambda axes, how: draw_drama(axes, drama, units, how, height), 1.0))
    elif section is not None:
        away = ceiling_profile(section, RoomLight(scene.room, still.lit))
        if away is not None:
            charts.append(
                Chart(
                    lambda axes, how: draw_across(axes, away, units, how),
                    1.8,
                    left_pt=22,
                    below_pt=24,
                )
            )
    if section is not None:
        drawing = Drawing(section, scene.room, scene.length_unit)
        title = f"Section through run {section.plan.tag}"
        charts.append(
            Chart(
                lambda axes, how: draw_small_section(axes, drawing, how),
                2.4,
                below_pt=0,
                title=title,
            )
        )
    return charts
