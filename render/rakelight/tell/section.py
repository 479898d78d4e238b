"""A dimensioned section square through a run, true to scale: on a sheet, or on a plate's axes."""

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from rakelight.build.bodies import figure_outline
from rakelight.measure.section_cut import SectionCut
from rakelight.measure.section_numbers import RunSection, place_on
from rakelight.measure.sight_ranges import candela_in_section, sight_lines
from rakelight.tell.section_parts import (
    CUT,
    EYE,
    LIGHT,
    PERSON,
    ROW_MM,
    THICK_MM,
    WALLS,
    Drawing,
    ceiling_over,
    draw_bodies,
    draw_light,
    draw_sight_lines,
    draw_structure,
    grazing_line,
    hangs_low,
    peak_lands,
    room_box,
)
from rakelight.tell.section_pen import PAPER_HEX, QUIET_HEX, Pen
from rakelight.tell.section_scale import scale_to_fit

Floats = NDArray[np.float64]

__all__ = [
    "Drawing",
    "around_mm",
    "draw_bodies",
    "draw_light",
    "draw_section",
    "draw_structure",
    "room_box",
]


def around_mm(drawing: Drawing) -> tuple[float, float, float, float]:
    """Paper around the room that dimensions take: left, right, below, above. [mm]"""
    section = drawing.section
    rows = _rows(section)
    left = rows["left"] + hangs_low(section)
    below = 10.0 + 6 * rows["below"] + ROW_MM * len(section.sights) + 8
    return (
        max(26.0, THICK_MM + 6 + 5.5 * left),
        18.0 + 5.5 * (rows["right"] + (_ridge(section.cut) is not None)),
        below + 12.0,
        THICK_MM + 3.0 + 6 * rows["above"],
    )


def draw_section(axes: Axes, drawing: Drawing, *, text_pt: float = 8.0) -> Pen:
    """Draw the whole room in section on axes of any size; they are set to one scale.

    Parameters
    ----------
    axes : Axes
        On a figure of known size. What is drawn fits them, with its dimensions.
    drawing : Drawing
        What to draw.
    text_pt : float
        Size of labels.

    Returns
    -------
    Pen
        For more on the same axes.
    """
    scale_to_fit(axes, room_box(drawing.section), around_mm(drawing), stand=(0.5, 0.5))
    pen = Pen(axes, text_pt)
    section = drawing.section
    draw_structure(pen, drawing)
    _person(pen, drawing)
    draw_light(pen, drawing, curve_mm=_curve_mm(pen, drawing))
    draw_bodies(pen, drawing)
    _landings(pen, drawing)
    _sights(pen, drawing)
    _sizes(pen, drawing)
    _name_lines(pen, section)
    _wall_names(pen, drawing)
    return pen


def _curve_mm(pen: Pen, drawing: Drawing) -> float:
    """Length of the curve's peak on paper that keeps it within the room."""
    section = drawing.section
    cut = section.cut
    aims, candela = candela_in_section(cut, section.line, 72)
    ways = np.stack([cut.direction(float(aim)) for aim in aims])
    unit = candela[:, None] * ways / max(float(candela.max()), 1e-12)
    box = room_box(section)
    fits = [42.0]
    for axis, low, high in ((0, box[0], box[1]), (1, box[2], box[3])):
        for limit, most in (
            (float(cut.source_m[axis]) - low, -float(unit[:, axis].min())),
            (high - float(cut.source_m[axis]), float(unit[:, axis].max())),
        ):
            if most > 1e-6:
                fits.append(limit / most / pen.mm)
    return max(10.0, min(fits))


def _wall_names(pen: Pen, drawing: Drawing) -> None:
    """Which wall is which."""
    cut = drawing.section.cut
    for name in WALLS:
        parts = [s for s in cut.segments if s.name == name]
        if not parts:
            continue
        part = max(parts, key=lambda s: float(np.hypot(*(s.b_m - s.a_m))))
        upright = abs(part.normal[0]) > abs(part.normal[1])
        places = [
            part.a_m + k * (part.b_m - part.a_m) + 3.0 * pen.mm * part.normal
            for k in (0.5, 0.4, 0.6, 0.3, 0.7, 0.8, 0.2, 0.15, 0.85)
        ]
        pen.along(places, f"{name} wall", 90.0 if upright else 0.0)


def _person(pen: Pen, drawing: Drawing) -> None:
    """A 1.7 m figure where it is out of the way, because people give scale."""
    section = drawing.section
    if section.cut.upright:
        return
    low, high = 0.8, section.cut.depth_m - 0.4
    if high <= low:
        return
    outline = figure_outline()
    standing = [s for s in section.sights if s.eye_m > 1.4]
    wished = [x for s in standing[:1] for pair in s.seen_m for x in pair if low < x < high]
    floor = [s for s in section.cut.segments if s.name == "floor"]
    for x in [*wished, *(low + (high - low) * k / 10 for k in (6, 7, 5, 8, 4, 9, 3, 10, 2, 0))]:
        free = any(
            min(s.a_m[0], s.b_m[0]) < x - 0.3 and x + 0.3 < max(s.a_m[0], s.b_m[0]) for s in floor
        )
        if free:
            pen.fill(outline + np.array([x, 0.0]), PERSON, edge="#d3cec5", wide_pt=0.5, order=0.6)
            return


Place = tuple[str, Floats, str]


def _places(section: RunSection) -> list[Place]:
    """Surface, point and colour of everything that lands, those near to the wall first."""
    places = [(line.on, line.lands_m, CUT) for line in section.cut_offs]
    on, at = peak_lands(section)
    if on:
        places.append((on, at, LIGHT))
    return sorted(places, key=lambda place: float(place[1].sum()))


def _side(cut: SectionCut, name: str) -> str:
    """On which side of the room a surface's dimensions stand."""
    normal = next(s.normal for s in cut.segments if s.name == name)
    if abs(normal[0]) > abs(normal[1]):
        return "left" if normal[0] > 0 else "right"
    return "below" if normal[1] > 0 else "above"


def _rows(section: RunSection) -> dict[str, int]:
    """How many dimensions of landings stand on each side of the room."""
    rows = {"left": 0, "right": 0, "below": 0, "above": 0}
    for name, _, _ in _places(section):
        rows[_side(section.cut, name)] += 1
    return rows


def _ridge(cut: SectionCut) -> Floats | None:
    """Where a ceiling is highest between the walls; None if that is at a wall."""
    if cut.upright:
        return None
    shell = [s for s in cut.segments if s.shell and s.name.startswith("ceiling")]
    points = [p for s in shell for p in (s.a_m, s.b_m)]
    if not points:
        return None
    top = max(points, key=lambda p: float(p[1]))
    ends = [p[1] for p in (min(points, key=lambda p: p[0]), max(points, key=lambda p: p[0]))]
    return top if float(top[1]) > max(map(float, ends)) + 1e-3 else None


def _landings(pen: Pen, drawing: Drawing) -> None:
    """Dimensions of the places where beam and cut-off lines land, outside the room."""
    section = drawing.section
    cut, mm = section.cut, pen.mm
    box = room_box(section)
    rows = {"left": 0, "right": 0, "below": 0, "above": 0}
    for name, point, colour in _places(section):
        words = drawing.say(place_on(section, name, point))
        side = _side(cut, name)
        if side in ("left", "right"):
            out = (THICK_MM + 5 + 5.5 * rows[side]) * mm
            x = box[0] - out if side == "left" else box[1] + out
            foot = 0.0 if not cut.upright else box[2]
            pen.size(foot, float(point[1]), x, words, upright=True, reach_to_m=float(point[0]),
                     colour=colour)  # fmt: skip
        else:
            out = (THICK_MM + 4.5 + 6 * rows[side]) * mm
            y = box[2] - out if side == "below" else box[3] + out
            pen.size(0.0, float(point[0]), y, words, reach_to_m=float(point[1]), colour=colour)
        rows[side] += 1


def _sights(pen: Pen, drawing: Drawing) -> None:
    """Lines of sight that just miss the opening, and a row for each eye: seen, hidden."""
    section = drawing.section
    cut, mm = section.cut, pen.mm
    box = room_box(section)
    draw_sight_lines(pen, drawing)
    floor_rows = sum(_side(cut, name) == "below" for name, _, _ in _places(section))
    top = box[2] - (THICK_MM + 6.5 + 6 * floor_rows) * mm
    for number, sight in enumerate(section.sights):
        y = top - number * ROW_MM * mm
        level = sight.eye_m / float(cut.up[2])
        for one in sight_lines(cut, sight):
            pen.line([(one.eye_m[0], level), (one.eye_m[0], y)], EYE, 0.3, (1.0, 2.2),
                     order=2.4, avoid=False)  # fmt: skip
            _eye(pen, one.eye_m)
        pen.line([(sight.from_m, y), (sight.to_m, y)], EYE, 0.5, (0.8, 2.0), order=3, clip=False)
        for a, b in sight.seen_m:
            pen.line([(a, y), (b, y)], EYE, 2.4, order=3.1, clip=False)
        pen.text(
            (box[0] - 2.0 * mm, y), f"eye {drawing.say(sight.eye_m)}", colour=EYE, align="right"
        )
        if not sight.seen_m:
            pen.text((sight.to_m, y), "never seen", colour=EYE, align="right")
        for low, high in sight.seen_m:
            for x, at_wall in (
                (low, low - sight.from_m < 1e-6), (high, sight.to_m - high < 1e-6)
            ):  # fmt: skip
                if not at_wall:
                    pen.text(
                        (x + 1.5 * mm if x == high else x - 1.5 * mm, y),
                        drawing.say(x), colour=EYE, align="left" if x == high else "right",
                    )  # fmt: skip
    if any(sight.seen_m for sight in section.sights):
        pen.text(
            (box[0], top - len(section.sights) * ROW_MM * mm),
            "heavy: the opening is seen from there", colour=QUIET_HEX, align="left",
            size_pt=0.85 * pen.text_pt,
        )  # fmt: skip


def _eye(pen: Pen, at_m: Floats) -> None:
    turn = np.linspace(0, 2 * np.pi, 25)
    ring = at_m + 0.8 * pen.mm * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    pen.fill(ring, PAPER_HEX, edge=EYE, wide_pt=0.8, order=5)


def _sizes(pen: Pen, drawing: Drawing) -> None:
    """Heights of the room at its far wall and at its ridge, and of a run far below the ceiling."""
    section = drawing.section
    cut, mm = section.cut, pen.mm
    box = room_box(section)
    if cut.upright:
        return
    x = box[1] + (THICK_MM + 11) * mm
    top = max(
        (p for s in cut.segments if s.name.startswith("ceiling") for p in (s.a_m, s.b_m)),
        key=lambda p: float(p[0]),
        default=None,
    )
    ridge = _ridge(cut)
    for number, (point, end) in enumerate(((top, box[1]), (ridge, box[1]))):
        if point is not None:
            pen.size(
                0.0, float(point[1]), x + 6.5 * number * mm,
                drawing.say(float(cut.over_floor_m(point))), upright=True, reach_from_m=end,
                reach_to_m=float(point[0]), colour=QUIET_HEX,
            )  # fmt: skip
    if hangs_low(section):
        place, level = float(cut.source_m[0]), float(cut.source_m[1])
        x = box[0] - (THICK_MM + 5 + 5.5 * _rows(section)["left"]) * mm
        over = ceiling_over(cut, cut.source_m)
        for low, high, reach in ((0.0, level, place), (level, over, None)):
            pen.size(low, high, x, drawing.say(high - low), upright=True, reach_from_m=None,
                     reach_to_m=reach, colour=QUIET_HEX)  # fmt: skip


def _name_lines(pen: Pen, section: RunSection) -> None:
    """Words on beam and cut-off lines, where there is room."""
    cut = section.cut
    on, at = peak_lands(section)
    shares = (0.5, 0.6, 0.4, 0.7, 0.3, 0.8)
    if on:
        pen.label([cut.source_m + k * (at - cut.source_m) for k in shares], "main beam",
                  colour=LIGHT)  # fmt: skip
    for line in section.cut_offs:
        anchors = [line.edge_m + k * (line.lands_m - line.edge_m) for k in shares]
        pen.label(anchors, f"cut-off, {line.thing}", colour=CUT)
    seen = [one for sight in section.sights for one in sight_lines(cut, sight)[:1]]
    if seen:
        one = seen[0]
        anchors = [one.eye_m + k * (one.opening_m - one.eye_m) for k in shares[::-1]]
        pen.label(anchors, "sight line", colour=EYE)
    grazing = grazing_line(section)
    if len(grazing):
        anchors = [grazing[0] + k * (grazing[1] - grazing[0]) for k in shares]
        pen.label(anchors, "sight line of the worst eye", colour=EYE)
        _eye(pen, grazing[0])
