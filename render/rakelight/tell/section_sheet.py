"""A section's sheet: the room to scale, a detail of the run, and its figures in words."""

import io
import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from rakelight.measure.section_numbers import RunSection, section_numbers
from rakelight.scene.scene import Scene
from rakelight.study.section_checks import named_eye_numbers
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.lettering import HAIRLINE
from rakelight.tell.section import around_mm, draw_section
from rakelight.tell.section_detail import detail_box, draw_detail, level_sizes
from rakelight.tell.section_parts import CUT, EYE, LIGHT, Drawing, room_box
from rakelight.tell.section_pen import INK_HEX, PAPER_HEX, QUIET_HEX, Pen, font, hex_colour
from rakelight.tell.section_words import facts
from rakelight.units import LengthUnit

Kind = Literal["svg", "png", "pdf"]
Figured = tuple[float, float, float, float]

#: Sheets, landscape: A3 (ISO 216), and 17 x 11 in (ANSI B). [mm]
A3_MM, B_MM = (420.0, 297.0), (431.8, 279.4)
# metres of building for each of paper, as drawing offices use them (ISO 5455 and between)
METRIC = (1, 2, 2.5, 5, 10, 15, 20, 25, 40, 50, 75, 100, 150, 200, 250, 500)
FEET = (1, 2, 4, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 384)
MARGIN_MM, COLUMN_MM, HEAD_MM, FOOT_MM = 14.0, 120.0, 20.0, 20.0
PNG_DPI = 200


def scale_for(need: float, unit: LengthUnit) -> float:
    """The usual scale, metres to a metre of paper, that is just coarse enough."""
    usual = FEET if unit in ("ft", "in") else METRIC
    return next((float(s) for s in usual if s >= need - 1e-9), float(math.ceil(need)))


def say_scale(scale: float, unit: LengthUnit) -> str:
    """A scale as it is written on drawings: ``1:25``, or ``1/2 in = 1 ft``."""
    if unit in ("ft", "in"):
        names = {1: "full size", 2: "6 in = 1 ft", 4: "3 in = 1 ft", 8: "1 1/2 in = 1 ft",
                 12: "1 in = 1 ft", 16: "3/4 in = 1 ft", 24: "1/2 in = 1 ft",
                 32: "3/8 in = 1 ft", 48: "1/4 in = 1 ft", 64: "3/16 in = 1 ft",
                 96: "1/8 in = 1 ft", 128: "3/32 in = 1 ft", 192: "1/16 in = 1 ft",
                 384: "1/32 in = 1 ft"}  # fmt: skip
        if int(scale) in names:
            return names[int(scale)]
    return f"1:{scale:g}"


def section_sheet(scene: Scene, section: RunSection) -> Figure:
    """Draw a run's section on a sheet.

    Parameters
    ----------
    scene : Scene
        The scene.
    section : RunSection
        From `run_section`.

    Returns
    -------
    Figure
        A3, or 17 x 11 in where the scene speaks feet and inches; printed at its size, the scales
        it states are true.
    """
    unit = scene.length_unit
    drawing = Drawing(section, scene.room, unit)
    size = B_MM if unit in ("ft", "in") else A3_MM
    figure = Figure(figsize=(size[0] / 25.4, size[1] / 25.4), facecolor=PAPER_HEX, dpi=PNG_DPI)
    FigureCanvasAgg(figure)
    wide = size[0] - 2 * MARGIN_MM - COLUMN_MM - 8
    tall = size[1] - MARGIN_MM - HEAD_MM - FOOT_MM
    scale, main = _room_view(figure, drawing, wide, tall)
    right = size[0] - MARGIN_MM - COLUMN_MM
    top = size[1] - MARGIN_MM - HEAD_MM
    detail, bottom = _detail_view(figure, drawing, right, top)
    _words(figure, scene, drawing, right, bottom)
    _head_and_foot(figure, scene, section, scale, detail)
    _bar(main, drawing)
    return figure


def sheet_bytes(figure: Figure, kind: Kind) -> bytes:
    """Turn a sheet into a file's bytes, the same every time.

    Parameters
    ----------
    figure : Figure
        From `section_sheet`.
    kind : {"svg", "png", "pdf"}
        SVG holds its letters as outlines, PDF embeds the face; neither carries a date.
    """
    metadata: dict[str, Any] = {
        "svg": {"Date": None, "Creator": None},
        "png": {"Software": None},
        "pdf": {"CreationDate": None, "ModDate": None, "Creator": None, "Producer": None},
    }[kind]
    settings: Any = {"svg.hashsalt": "rakelight", "svg.fonttype": "path", "pdf.fonttype": 42}
    buffer = io.BytesIO()
    with matplotlib.rc_context(settings):
        figure.savefig(
            buffer, format=kind, dpi=PNG_DPI, facecolor=figure.get_facecolor(), metadata=metadata
        )
    return buffer.getvalue()


def section_document(scene: Scene, sections: Sequence[RunSection]) -> Mapping[str, Any]:
    """The numbers of sections for machines: SI, every digit, null for what does not exist."""
    return {
        "scene": scene.name,
        "sections": [
            {
                "run": section.plan.tag,
                "from_start_m": section.cut.along_m,
                "wall": section.cut.wall,
                "numbers": {
                    number.key: {
                        "value": number.value if math.isfinite(number.value) else None,
                        "unit": number.unit,
                        "says": number.says,
                    }
                    for number in (
                        *section_numbers(section),
                        *named_eye_numbers(scene, section.plan),
                    )
                },
                "seen": [
                    {"eye_m": sight.eye_m, "seen_m": [list(pair) for pair in sight.seen_m]}
                    for sight in section.sights
                ],
            }
            for section in sections
        ],
    }


def _room_view(figure: Figure, drawing: Drawing, wide: float, tall: float) -> tuple[float, Pen]:
    box = room_box(drawing.section)
    left, right, below, above = around_mm(drawing)
    need = 1000 * max(
        (box[1] - box[0]) / (wide - left - right), (box[3] - box[2]) / (tall - below - above)
    )
    scale = scale_for(need, drawing.unit)
    w = (box[1] - box[0]) * 1000 / scale + left + right
    h = (box[3] - box[2]) * 1000 / scale + below + above
    x = MARGIN_MM + (wide - w) / 2
    y = FOOT_MM + 0.7 * (tall - h)
    axes = figure.add_axes(_share(figure, x, y, w, h))
    return scale, draw_section(axes, drawing)


def _detail_view(figure: Figure, drawing: Drawing, left: float, top: float) -> tuple[float, float]:
    """The detail's axes, as wide as the column; returns its scale and where it ends. [mm]"""
    low_x, high_x, low_y, high_y = detail_box(drawing)
    wide, most = COLUMN_MM - 14.0, 100.0
    need = 1000 * max((high_x - low_x) / (wide - 40), (high_y - low_y) / (most - 22))
    scale = scale_for(need, drawing.unit)
    mm = scale / 1000
    tall = min(most, max(58.0, (high_y - low_y) / mm + 34))
    x0 = low_x - 8 * mm
    over = high_y + 7 * mm
    axes = figure.add_axes(_share(figure, left, top - tall, wide, tall))
    axes.set_xlim(x0, x0 + wide * mm)
    axes.set_ylim(over - tall * mm, over)
    if drawing.section.cut.facing[1] > 0:  # the light goes up: room above
        spare = tall * mm - (high_y - low_y)
        axes.set_ylim(low_y - 0.3 * spare, low_y - 0.3 * spare + tall * mm)
    axes.set_axis_off()
    draw_detail(axes, drawing)
    return scale, top - tall - 6.0 - 6.0 * max(3, len(level_sizes(drawing)))


def _words(figure: Figure, scene: Scene, drawing: Drawing, left: float, top: float) -> None:
    colours = {"beam": LIGHT, "cut": CUT, "eye": EYE, "": INK_HEX}
    y = top
    for kind, name, value in facts(scene, drawing):
        if not name and not value:
            y -= 2.0
            continue
        _put(figure, left, y, name, 8.0, QUIET_HEX if not kind else colours[kind])
        lines = _wrapped(value, 78.0, 8.0)
        for line in lines:
            _put(figure, left + 38, y, line, 8.0, INK_HEX)
            y -= 4.0
        y -= 0.4


def _wrapped(text: str, wide_mm: float, size_pt: float) -> list[str]:
    from rakelight.tell.lettering import Style, broken

    # the lettering measures in pixels: ten to a point keeps the rounding small
    style = Style(round(size_pt * 10))
    return broken(text, style, round(wide_mm / 25.4 * 72 * 10))


def _head_and_foot(
    figure: Figure, scene: Scene, section: RunSection, scale: float, detail: float
) -> None:
    size = np.array(figure.get_size_inches()) * 25.4
    unit = scene.length_unit
    plan = section.plan
    _put(figure, MARGIN_MM, size[1] - MARGIN_MM - 4, scene.title, 15.0, INK_HEX, "bold")
    sheet = "17 x 11 in" if unit in ("ft", "in") else "A3"
    how = "Plan cut level" if section.cut.upright else "Section square"
    words = (
        f"{how} through run {plan.tag} ({plan.file}). {say_scale(scale, unit)}, detail "
        f"{say_scale(detail, unit)}, on {sheet}. Distances from the finished "
        f"{section.cut.wall} wall"
        + (", heights over the finished floor." if not section.cut.upright else ".")
    )
    if plan.kind == "free" and abs(float(section.line.axis[2])) > 1e-6:
        words += " The run slopes, and the cut leans with it."
    _put(figure, MARGIN_MM, size[1] - MARGIN_MM - 11, words, 9.0, QUIET_HEX)
    rule = Line2D(
        [MARGIN_MM / size[0], 1 - MARGIN_MM / size[0]],
        [(FOOT_MM - 4) / size[1]] * 2, color=hex_colour(HAIRLINE), linewidth=0.6,
    )  # fmt: skip
    figure.add_artist(rule)
    lines = _wrapped(" ".join(CAUTIONS), size[0] - 2 * MARGIN_MM, 7.0)
    for k, line in enumerate(lines):
        _put(figure, MARGIN_MM, FOOT_MM - 7.5 - 3.4 * k, line, 7.0, QUIET_HEX)


def _bar(pen: Pen, drawing: Drawing) -> None:
    """A scale bar in the lower right of the room's view."""
    feet = drawing.unit in ("ft", "in")
    step = 0.3048 if feet else 1.0
    whole = step
    while whole / pen.mm < 22:
        whole += step
    while whole / pen.mm > 60 and not feet:
        whole /= 2
    x1 = pen.axes.get_xlim()[1] - around_mm(drawing)[1] * pen.mm
    at = np.array([x1 - whole, pen.axes.get_ylim()[0] + 6 * pen.mm])
    pen.scale_bar(at, whole, 4, ["0", drawing.say(whole)])


def _put(
    figure: Figure, x_mm: float, y_mm: float, words: str, size_pt: float, colour: str,
    weight: str = "regular",
) -> None:  # fmt: skip
    size = np.array(figure.get_size_inches()) * 25.4
    figure.text(
        x_mm / size[0], y_mm / size[1], words, color=colour, fontproperties=font(size_pt, weight),
        ha="left", va="baseline",
    )  # fmt: skip


def _share(figure: Figure, x: float, y: float, w: float, h: float) -> Figured:
    size = np.array(figure.get_size_inches()) * 25.4
    return (x / size[0], y / size[1], w / size[0], h / size[1])
