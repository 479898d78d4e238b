"""A mock-up sheet: one page to take to the site, and a CSV to type the readings into."""

import csv
import io
import math
from functools import lru_cache

import numpy as np
from reportlab.lib.colors import Color
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from rakelight.study.mockup import Sheet
from rakelight.tell.caption import bounce_line
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.lettering import HAIRLINE, INK, QUIET, face
from rakelight.tell.shown import Units, say_percent
from rakelight.units import LX_PER_FC, say_angle, say_length, say_number

_MARGIN = 16 * mm
_REGULAR, _BOLD = "Rakelight-Regular", "Rakelight-Semibold"
_ACCENT = Color(0.659, 0.380, 0.110)
_RULE = Color(0.60, 0.56, 0.50)
_PALE = Color(0.96, 0.94, 0.90)


def mockup_csv(sheet: Sheet, units: Units) -> bytes:
    """Points to fill in; `reconcile` reads it back.

    Parameters
    ----------
    sheet : Sheet
        The points.
    units : Units
        The reader's; they end the names of the columns.
    """
    length, light = units.length, units.illuminance
    per_m = {"m": 1.0, "mm": 1000.0, "ft": 1 / 0.3048, "in": 1 / 0.0254}[length]
    digits = {"m": 4, "mm": 1, "ft": 4, "in": 3}[length]
    per_lx = 1 / LX_PER_FC if light == "fc" else 1.0
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    out.writerow(
        [
            "point", f"from_left_{length}", f"up_{length}", f"head_{length}",
            f"predicted_{light}", "sure_within_percent", f"measured_{light}",
            f"background_{light}",
        ]
    )  # fmt: skip
    meter = sheet.meter
    for k in range(meter.u_m.size):
        out.writerow(
            [
                k + 1,
                f"{meter.u_m[k] * per_m:.{digits}f}",
                f"{meter.v_m[k] * per_m:.{digits}f}",
                f"{sheet.head_m * per_m:.{digits}f}",
                f"{sheet.predicted_lx[k] * per_lx:.2f}",
                f"{196 * sheet.expected[k]:.0f}",
                "",
                "",
            ]
        )
    return text.getvalue().encode()


def mockup_pdf(sheet: Sheet, units: Units, title: str) -> bytes:
    """One page: sketch, points with predictions and blanks, how to read, cautions.

    Parameters
    ----------
    sheet : Sheet
        The points.
    units : Units
        The reader's.
    title : str
        Of the scene.

    Returns
    -------
    bytes
        PDF on A4, the same every time; its text is text.
    """
    _fonts()
    buffer = io.BytesIO()
    page = Canvas(buffer, pagesize=A4, invariant=1, pageCompression=1)
    page.setTitle(f"{title}: mock-up sheet")
    page.setAuthor("Rakelight")
    wide, high = A4
    y = high - _MARGIN
    y = _text(page, _MARGIN, y - 14, f"{title}: mock-up sheet", 17, _BOLD)
    y = _paragraph(page, _MARGIN, y - 3, run_words(sheet, units), 9.5, wide - 2 * _MARGIN)
    y -= 8
    table_top = y
    y = _table(page, sheet, units, y)
    bottom = _sketch(page, sheet, units, table_top, y)
    y = min(y, bottom) - 10
    for head, lines in (("How to read", how_lines(sheet, units)), ("Warnings", warned(sheet))):
        if not lines:
            continue
        y = _text(page, _MARGIN, y - 11, head, 10.5, _BOLD)
        for line in lines:
            y = _paragraph(page, _MARGIN, y - 1, line, 9, wide - 2 * _MARGIN)
        y -= 5
    y = min(y, _MARGIN + 64)
    page.setStrokeColor(_colour(HAIRLINE))
    page.line(_MARGIN, y, wide - _MARGIN, y)
    signed = "      ".join(
        f"{word} {'.' * 30}" for word in ("Date", "Meter", "Calibrated", "Read by")
    )
    y = _text(page, _MARGIN, y - 15, signed, 9, _REGULAR)
    _paragraph(page, _MARGIN, y - 5, " ".join(CAUTIONS), 7.5, wide - 2 * _MARGIN, QUIET)
    page.showPage()
    page.save()
    return buffer.getvalue()


def run_words(sheet: Sheet, units: Units) -> str:
    """The run as it must stand for the predictions to hold."""
    plan, length = sheet.meter.plan, units.length
    setback = say_length(plan.setback_m, length)
    return (
        f"Run {plan.tag}, {plan.file}: setback {setback} from {_from(sheet)} to the opening's "
        f"centre, clear gap {say_length(plan.clear_gap_m, length)} to the highest point, "
        f"{say_length(plan.backing_m, length)} from backing to centreline, opening "
        f"{say_length(float(sheet.meter.line.origin_m[2]), length)} over the floor, tilt "
        f"{say_angle(plan.tilt_rad)} (beam aim {say_angle(plan.beam_aim_rad)}), light output "
        f"{say_percent(plan.dim)}. Predicted values are initial, at that output, in "
        f"{units.illuminance}. {bounce_line(sheet.meter.scene.quality.bounce)}"
    )


def _from(sheet: Sheet) -> str:
    wall = sheet.meter.plan.beside or sheet.meter.plan.lights
    relief = sheet.meter.scene.room.surface(wall).relief
    return "the mean plane" if relief is not None else "the wall"


def how_lines(sheet: Sheet, units: Units) -> list[str]:
    """What whoever reads must know."""
    meter, length = sheet.meter, units.length
    lines = [
        "Hold the meter's head flat to the surface at each point, facing straight off it, and stay "
        "out of the light. Read with the run on, then with it off (background). New luminaires: "
        "let them warm up until readings stand still.",
    ]
    if sheet.head_m > 0:
        least, most = (100 * (float(f(sheet.without_head)) - 1) for f in (np.min, np.max))
        lines.append(
            f"The head sits {say_length(sheet.head_m, length)} off what it rests on. That is in "
            "the predictions: with a head of no height these points would read otherwise, here by "
            f"{least:+.0f} to {most:+.0f} %."
        )
    else:
        lines.append(
            "Predicted for a head of no height. Near a close run it matters: 15 mm off reads 30 % "
            "low at a setback of 50 mm. State its height with --head."
        )
    lift = meter.lift_m - sheet.head_m
    if lift > 0.002:
        lines.append(
            f"The relief's highest point stands {say_length(lift, length)} before its mean plane: "
            "rest the head on a straight board across the highest points, not in a hollow."
        )
    lines.append(
        "The figure after the predicted value holds 95 % of readings if the site is as exact as "
        f"this: meter {sheet.site.meter:.0%}, place along the surface "
        f"{say_length(sheet.site.height_m, length)}, setback "
        f"{say_length(sheet.site.setback_m, length)}, tilt {say_angle(sheet.site.tilt_rad)}, "
        f"output {sheet.site.output:.0%} (one standard deviation each)."
    )
    return lines


def warned(sheet: Sheet) -> list[str]:
    """Warnings of the sheet's own."""
    out = []
    if sheet.oblique.any():
        names = ", ".join(str(k + 1) for k in range(sheet.oblique.size) if sheet.oblique[k])
        out.append(
            f"At points {names} (marked *) the light falls at more than 80 deg from the normal, "
            "where hand meters err: a low reading there need not mean little light."
        )
    if sheet.left_out:
        out.append(
            f"{sheet.left_out} places were left out: something stands in the light there, or they "
            "lie off the surface."
        )
    return out


def _table(page: Canvas, sheet: Sheet, units: Units, top: float) -> float:
    meter, light = sheet.meter, units.illuminance
    wall = abs(float(meter.surface.frame.n[2])) < 0.5
    heads = [
        "", "over floor" if wall else "beside run", "from left" if wall else "height",
        "falls at", f"predicted {light}", "95 %",
        f"reading {light}", "background", "verdict",
    ]  # fmt: skip
    at = [0, 16, 78, 142, 186, 238, 274, 318, 364, 392]
    left = _MARGIN
    page.setFont(_REGULAR, 8)
    page.setFillColor(_colour(QUIET))
    for k, head in enumerate(heads):
        page.drawString(left + at[k] + 4, top - 10, head)
    per_lx = 1 / LX_PER_FC if light == "fc" else 1.0
    y = top - 15
    row = 25.0
    for k in range(meter.u_m.size):
        page.setStrokeColor(_colour(HAIRLINE))
        page.line(left, y, left + at[-1], y)
        page.setFillColor(_PALE)
        page.rect(left + at[6], y - row, at[9] - at[6], row, stroke=0, fill=1)
        point = meter.points_m()[k]
        cells = [
            f"{k + 1}",
            say_length(float(point[2]) if wall else float(meter.from_run_m[k]), units.length),
            say_length(float(meter.u_m[k]) if wall else float(point[2]), units.length),
            f"{math.degrees(sheet.angle_rad[k]):.0f} deg{' *' if sheet.oblique[k] else ''}",
            say_number(float(sheet.predicted_lx[k]) * per_lx),
            f"± {196 * sheet.expected[k]:.0f} %",
        ]
        page.setFillColor(_colour(INK))
        for c, cell in enumerate(cells):
            page.setFont(_BOLD if c in (0, 4) else _REGULAR, 9.5 if c == 4 else 9)
            page.drawString(left + at[c] + 4, y - 16, cell)
        y -= row
    page.line(left, y, left + at[-1], y)
    # a box for each reading: over the pale cells, whose fill hides half of a row's line
    page.setStrokeColor(_RULE)
    page.setLineWidth(0.6)
    for x in at[6:]:
        page.line(left + x, top - 15, left + x, y)
    for k in range(meter.u_m.size + 1):
        page.line(left + at[6], y + k * row, left + at[-1], y + k * row)
    return y


def _sketch(page: Canvas, sheet: Sheet, units: Units, top: float, bottom: float) -> float:
    """Where the points are: to scale along the surface, their numbers spread beside it."""
    meter = sheet.meter
    x = A4[0] - _MARGIN - 98
    high = top - 22 - bottom
    far = float(meter.from_run_m.max()) * 1.06
    scale = high / far
    start = top - 22
    page.setFillColor(_colour(QUIET))
    page.setFont(_REGULAR, 8)
    wall = abs(float(meter.surface.frame.n[2])) < 0.5
    page.drawString(
        x - 2, top - 10, "below the run, to scale" if wall else "beside the run, to scale"
    )
    page.setFillColor(_colour(HAIRLINE))
    page.rect(x - 5, bottom, 5, high + 4, stroke=0, fill=1)
    page.setStrokeColor(_colour(INK))
    page.setLineWidth(0.8)
    page.line(x, bottom, x, start + 4)
    away = abs(float(meter.surface.frame.from_room(meter.line.origin_m)[2])) * scale
    away = min(away, 40.0)
    page.setFillColor(_colour(INK))
    page.rect(x + away - 3, start - 1.2, 6, 5, stroke=0, fill=1)
    page.setDash(1, 2)
    page.line(x + 1, start, x + away - 3, start)
    page.setDash()
    count = meter.from_run_m.size
    for k, d in enumerate(meter.from_run_m.tolist()):
        y = start - d * scale
        label = start - 8 - k * (high - 14) / max(1, count - 1)
        page.setStrokeColor(_colour(QUIET))
        page.setLineWidth(0.4)
        page.line(x + 2, y, x + 56, label)
        page.setFillColor(_ACCENT)
        page.circle(x, y, 1.7, stroke=0, fill=1)
        page.setFillColor(_colour(INK))
        page.setFont(_BOLD, 8.5)
        page.drawString(x + 59, label - 3, f"{k + 1}")
        page.setFont(_REGULAR, 7.5)
        page.drawString(x + 70, label - 3, say_length(d, units.length))
    return bottom


def _text(page: Canvas, x: float, y: float, text: str, size: float, font: str) -> float:
    page.setFillColor(_colour(INK))
    page.setFont(font, size)
    page.drawString(x, y, text)
    return y - 4


def _paragraph(
    page: Canvas, x: float, y: float, text: str, size: float, width: float,
    ink: tuple[int, int, int] = INK,
) -> float:  # fmt: skip
    page.setFillColor(_colour(ink))
    page.setFont(_REGULAR, size)
    line = ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if pdfmetrics.stringWidth(longer, _REGULAR, size) > width and line:
            y -= 1.22 * size
            page.drawString(x, y, line)
            longer = word
        line = longer
    y -= 1.22 * size
    page.drawString(x, y, line)
    return y


def _colour(rgb: tuple[int, int, int]) -> Color:
    return Color(*(part / 255 for part in rgb))


@lru_cache(maxsize=1)
def _fonts() -> None:
    """Embed the plates' own face, so that the page looks the same everywhere."""
    for name, weight in ((_REGULAR, "regular"), (_BOLD, "bold")):
        pdfmetrics.registerFont(TTFont(name, str(face(10, weight).path)))


__all__ = ["how_lines", "mockup_csv", "mockup_pdf", "run_words", "warned"]
