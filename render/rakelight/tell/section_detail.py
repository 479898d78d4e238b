"""The detail of a section: what lies around the run, dimensioned from wall and ceiling."""

import math

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from rakelight.measure.section_bodies import body_outline
from rakelight.measure.section_numbers import RunSection
from rakelight.tell.section_parts import (
    NEAR_M,
    Drawing,
    ceiling_over,
    draw_bodies,
    draw_light,
    draw_sight_lines,
    draw_structure,
)
from rakelight.tell.section_pen import INK_HEX, QUIET_HEX, Pen
from rakelight.tell.section_shapes import solids

Floats = NDArray[np.float64]


def draw_detail(axes: Axes, drawing: Drawing, *, text_pt: float = 8.0) -> Pen:
    """Draw what lies around the run at the axes' own scale; limits are set by the caller.

    Parameters
    ----------
    axes : Axes
        With limits and one scale; dimensions stand to the right of them and below.
    drawing : Drawing
        What to draw.
    text_pt : float
        Size of labels.
    """
    pen = Pen(axes, text_pt)
    draw_structure(pen, drawing)
    draw_light(pen, drawing, curve_mm=0.0)
    draw_sight_lines(pen, drawing)
    draw_bodies(pen, drawing)
    _detail_sizes(pen, drawing)
    return pen


def detail_box(drawing: Drawing) -> tuple[float, float, float, float]:
    """What a detail has to show: the housing, the wall, the screen, the ceiling if it is near."""
    section = drawing.section
    cut = section.cut
    own = body_outline(cut, drawing.room.bodies, section.plan.line)
    points = [cut.source_m, *cut.ends_m, *own]
    if section.screen is not None and section.screen.edges_m[:, 0].max() < cut.source_m[0] + NEAR_M:
        points += list(section.screen.edges_m)
    shape = np.array(points)
    left = min(0.0, cut.backing_m) if len(cut.profile_m) else 0.0
    low, high = float(shape[:, 1].min()), float(shape[:, 1].max())
    over = ceiling_over(cut, cut.source_m)
    if not math.isnan(over) and over - high < NEAR_M:
        high = max(high, over)
    slots = [p for s in cut.segments if s.name.startswith("slot") for p in (s.a_m, s.b_m)]
    for p in slots:
        if abs(float(p[0]) - float(cut.source_m[0])) < NEAR_M:
            high = max(high, float(p[1]))
    return left, float(shape[:, 0].max()), low, high


#: Name, from, to; heights from which the two ends come, None for the detail's lower edge. [m]
LevelSize = tuple[str, float, float, float | None, float | None]


def level_sizes(drawing: Drawing) -> list[LevelSize]:
    """The dimensions under a detail, from the wall to what lies near the run."""
    section = drawing.section
    cut, plan = section.cut, section.plan
    own = body_outline(cut, drawing.room.bodies, plan.line)
    source = cut.source_m
    rows: list[LevelSize] = []
    if abs(source[0] - plan.setback_m) > 1e-4:  # a sloping run: the cut is its own measure
        rows.append(("to the wall", 0.0, float(source[0]), None, float(source[1])))
    else:
        near = own[np.argmin(own[:, 0])] if len(own) else cut.ends_m[np.argmin(cut.ends_m[:, 0])]
        if abs(near[0] - cut.highest_m - plan.clear_gap_m) < 1e-4:
            rows.append(("clear gap", cut.highest_m, float(near[0]), None, float(near[1])))
        rows.append(("setback", 0.0, float(source[0]), None, float(source[1])))
        if len(cut.profile_m) and cut.backing_m < -1e-4:
            words = "backing to centreline"
            rows.append((words, cut.backing_m, float(source[0]), None, float(source[1])))
    for thing, outline in solids(cut.segments):
        kind = thing.split()[0]
        # a ledge reaches from the wall to its lip; of the others the nearer edge counts
        pick = np.argmax if kind == "cove" else np.argmin
        place = outline[pick(outline[:, 0] + (1e-6 if kind == "cove" else -1e-6) * outline[:, 1])]
        near_run = np.abs(outline - source).min(axis=0).max() < NEAR_M
        if kind in _NAMED and near_run and place[0] > 1e-3:
            rows.append((_NAMED[kind], 0.0, float(place[0]), None, float(place[1])))
    return rows


_NAMED = {"cove": "cove", "panel": "to the panel", "fascia": "to the fascia"}


def _detail_sizes(pen: Pen, drawing: Drawing) -> None:
    section = drawing.section
    cut, plan, mm = section.cut, section.plan, pen.mm
    own = body_outline(cut, drawing.room.bodies, plan.line)
    x0, x1 = pen.axes.get_xlim()
    y0, y1 = pen.axes.get_ylim()
    source = cut.source_m
    low = y0 + 1.5 * mm
    for number, (name, a, b, from_m, to_m) in enumerate(level_sizes(drawing)):
        pen.size(
            a, b, y0 - (4.5 + 6.0 * number) * mm, f"{name} {drawing.say(b - a)}",
            reach_from_m=low if from_m is None else from_m, reach_to_m=to_m,
        )  # fmt: skip
    column = 0
    over = ceiling_over(cut, source)
    if not math.isnan(over) and y0 <= over <= y1:
        if plan.drop_m > 0:
            words = f"drop {drawing.say(plan.drop_m)}"
        else:
            words = f"up in slot {drawing.say(-plan.drop_m)}"
        a, b = (float(source[1]), over)
        # a level ceiling runs to the frame; of a sloping one the height over the run is meant
        ends = x1 - 1.5 * mm if abs(ceiling_over(cut, np.array([x1, y1])) - over) < 1e-6 else None
        reach = float(source[0]) if ends is None else ends
        pen.size(a, b, x1 + 4.5 * mm, words, upright=True, reach_from_m=float(source[0]),
                 reach_to_m=reach)  # fmt: skip
        column += 1
        screen = section.screen
        if screen is not None and y0 <= screen.height_m <= y1:
            edge = screen.edges_m[np.argmax(screen.edges_m[:, 0])]
            if abs(over - float(edge[1])) > 1e-4 and edge[0] <= x1:
                words = f"edge {drawing.say(over - float(edge[1]))}"
                pen.size(
                    float(edge[1]), over, x1 + (4.5 + 6.0 * column) * mm, words, upright=True,
                    reach_from_m=float(edge[0]), reach_to_m=reach,
                )  # fmt: skip
    _tilt_arc(pen, section)
    _lowest(pen, drawing, own)
    frame = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1], [x0, y0]])
    pen.line(frame, QUIET_HEX, 0.4, order=6, avoid=False, clip=False)


def _lowest(pen: Pen, drawing: Drawing, own: Floats) -> None:
    """A level mark at the housing's lowest edge, with its height over the floor."""
    cut, plan, mm = drawing.section.cut, drawing.section.plan, pen.mm
    lies = plan.along.startswith(("cove", "panel", "fascia"))
    if cut.upright or lies or not len(own) or plan.kind == "free":
        return
    edge = own[np.argmin(own[:, 1] - 1e-6 * own[:, 0])]
    end = edge + np.array([9.0 * mm, 0.0])
    words = f"lowest edge {drawing.say(plan.lowest_edge_m)} up"
    if pen.beside(end + np.array([0.8 * mm, 0.0]), words):
        pen.line([edge + np.array([0.6 * mm, 0.0]), end], QUIET_HEX, 0.4, order=4.2, avoid=False)


def _tilt_arc(pen: Pen, section: RunSection) -> None:
    """The housing's turn, from its rest to where it is, and the beam's direction."""
    cut, plan = section.cut, section.plan
    rest = math.pi if plan.along.startswith(("cove", "panel")) or section.line.rises else 0.0
    turn = plan.tilt_rad - (rest if not section.line.rises else 0.0)
    if abs(math.remainder(turn, math.pi)) < 1e-3:
        return
    radius = 13 * pen.mm
    start = 0.0 if abs(turn) < math.pi / 2 else math.copysign(math.pi, turn)
    aims = np.linspace(start, plan.tilt_rad, 40)
    arc = np.array([cut.source_m + radius * cut.direction(float(a)) for a in aims])
    pen.line([cut.source_m, cut.source_m + 1.25 * radius * cut.direction(start)], QUIET_HEX, 0.4,
             (3.0, 1.5), order=4.4)  # fmt: skip
    pen.line([cut.source_m, cut.source_m + 1.25 * radius * cut.direction(plan.tilt_rad)],
             QUIET_HEX, 0.4, order=4.4)  # fmt: skip
    pen.line(arc, INK_HEX, 0.5, order=4.4)
