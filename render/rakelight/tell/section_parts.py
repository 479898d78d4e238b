"""What every view of a section draws: structure, bodies, light, lines of sight."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.section_bodies import body_outline
from rakelight.measure.section_cut import SectionCut
from rakelight.measure.section_numbers import RunSection
from rakelight.measure.section_rays import clear, first_met
from rakelight.measure.sight_ranges import candela_in_section, sight_lines
from rakelight.scene.surfaces import Room
from rakelight.tell.section_pen import INK_HEX, PAPER_HEX, PT_PER_MM, QUIET_HEX, Pen
from rakelight.tell.section_shapes import air, solids
from rakelight.units import LengthUnit, say_length

Floats = NDArray[np.float64]

WALLS = ("main", "opposite", "left", "right")
STRUCTURE, BOARD, STONE = "#dedad2", "#c4bcae", "#cfc7ba"
HOUSING, OTHER = "#55565a", "#b3b1ad"
LIGHT, CURVE = "#b8690f", "#dba545"
CUT, PENUMBRA = "#1f6a72", "#d5e6e6"
EYE, PERSON = "#7d3158", "#ebe8e2"
DASH_CUT, DASH_EYE = (7.0, 2.0), (1.6, 1.6)
#: Walls, floor and ceiling are drawn this thick. [mm]
THICK_MM = 3.0
ROW_MM = 5.6
#: What is farther away is not in the detail. [m]
NEAR_M = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """What a section draws.

    Parameters
    ----------
    section : RunSection
        Measured; every figure drawn is one of its numbers.
    room : Room
        For housings.
    unit : {"m", "mm", "ft", "in"}
        Lengths are printed in.
    """

    section: RunSection
    room: Room
    unit: LengthUnit

    def say(self, length_m: float) -> str:
        """A length as it is printed."""
        return say_length(length_m, self.unit)


def room_box(section: RunSection) -> tuple[float, float, float, float]:
    """Least and greatest out, least and greatest up of the room in the cut. [m]"""
    points = np.array(
        [p for s in section.cut.segments if not s.name.startswith("housing") for p in
         (s.a_m, s.b_m)]
    )  # fmt: skip
    low, high = points.min(axis=0), points.max(axis=0)
    return float(low[0]), float(high[0]), float(low[1]), float(high[1])


def peak_lands(section: RunSection) -> tuple[str, Floats]:
    """Surface and place at which the main beam lands in the cut. [m]"""
    cut = section.cut
    way = cut.direction(section.plan.beam_aim_rad)
    distance, which = first_met(cut.source_m, way, cut.segments)
    if which < 0:
        return "", np.full(2, math.nan)
    return cut.segments[which].name, cut.source_m + distance * way


def ceiling_over(cut: SectionCut, point_m: Floats) -> float:
    """Height of the finished ceiling's plane over a place; nan for an upright run. [m]"""
    if cut.upright:
        return math.nan
    best = math.nan
    for s in cut.segments:
        if s.shell and s.name.startswith("ceiling"):
            (xa, ya), (xb, yb) = sorted([tuple(s.a_m), tuple(s.b_m)])
            if xb - xa < 1e-9:
                continue
            at = ya + (yb - ya) * (float(point_m[0]) - xa) / (xb - xa)
            if xa - 1e-9 <= point_m[0] <= xb + 1e-9:
                return float(at)
            # over a slot: the plane goes on
            best = float(at) if math.isnan(best) else best
    return best


def hangs_low(section: RunSection) -> bool:
    """Whether a run hangs so far below the ceiling that its detail does not show both."""
    over = ceiling_over(section.cut, section.cut.source_m)
    return bool(
        section.plan.along == "ceiling" and section.plan.kind != "free"
        and over - float(section.cut.source_m[1]) > NEAR_M
    )  # fmt: skip


def grazing_line(section: RunSection) -> Floats:
    """From the worst eye over the edge that hides a run from everyone, and on; empty if none. [m]

    Shape (3, 2): the eye, the edge, where the line ends.
    """
    cut, screen = section.cut, section.screen
    if screen is None or not section.sights or any(s.seen_m for s in section.sights):
        return np.zeros((0, 2))
    sight = max(section.sights, key=lambda s: s.eye_m if screen.over else -s.eye_m)
    place = sight.to_m if screen.over else sight.from_m
    eye = np.array([place, sight.eye_m / float(cut.up[2])])
    edge = screen.edges_m[np.argmax(screen.edges_m[:, 0])]
    if not clear(eye, edge, cut.segments):
        return np.zeros((0, 2))
    way = (edge - eye) / np.hypot(*(edge - eye))
    distance, which = first_met(edge, way, cut.segments, 1e-4)
    end = edge + (distance if which >= 0 else 0.0) * way
    return np.array([eye, edge, end])


def draw_structure(pen: Pen, drawing: Drawing) -> None:
    """Walls, floor, ceiling, the relief's real heights, and what stands or hangs."""
    cut = drawing.section.cut
    loops = air(cut.segments)
    standing = solids(cut.segments)
    # under what stands on the floor or hangs from the ceiling the structure goes on
    attached = [
        outline for _, outline in standing if _touches_shell(outline, room_box(drawing.section))
    ]
    if len(cut.profile_m):
        attached.append(_backing(cut))
    for loop in (*loops, *attached):
        pen.fill(loop, STRUCTURE, edge=STRUCTURE, wide_pt=2 * THICK_MM * PT_PER_MM, order=0.1)
    for loop in loops:
        pen.fill(loop, PAPER_HEX, order=0.2)
        pen.line(np.vstack([loop, loop[:1]]), INK_HEX, 0.7, order=2.0)
    _stone(pen, cut)
    for _, outline in standing:
        pen.fill(outline, BOARD, edge=INK_HEX, wide_pt=0.6, order=2.2)
        pen.keep_off(outline)


def _touches_shell(outline: Floats, box: tuple[float, float, float, float]) -> bool:
    low, high = outline.min(axis=0), outline.max(axis=0)
    return bool(
        low[0] < box[0] + 1e-6 or high[0] > box[1] - 1e-6 or low[1] < box[2] + 1e-6
        or high[1] > box[3] - 1e-6
    )  # fmt: skip


def _backing(cut: SectionCut) -> Floats:
    """From the relief's backing to its mean plane."""
    profile = cut.profile_m
    back = min(cut.backing_m, float(profile[:, 0].min()))
    low, high = float(profile[0, 1]), float(profile[-1, 1])
    return np.array([[back, low], [0.0, low], [0.0, high], [back, high]])


def _stone(pen: Pen, cut: SectionCut) -> None:
    profile = cut.profile_m
    if not len(profile):
        return
    base = _backing(cut)
    back = float(base[0, 0])
    low, high = profile[0], profile[-1]
    pen.fill(base, PAPER_HEX, edge=PAPER_HEX, wide_pt=0.8, order=2.05)
    pen.fill(np.vstack([profile, [[back, high[1]], [back, low[1]]]]), STONE, order=2.1)
    pen.line(profile, INK_HEX, 0.5, order=2.15, avoid=False)
    pen.line([(back, low[1]), (back, high[1])], QUIET_HEX, 0.3, order=2.15, avoid=False)


def draw_bodies(pen: Pen, drawing: Drawing) -> None:
    """Housings in the cut, this run's darkest, and the luminous openings."""
    cut, plan = drawing.section.cut, drawing.section.plan
    for number, line in enumerate(drawing.room.lines()):
        if number == plan.line or abs(float(line.axis @ cut.axis)) < 0.999:
            continue
        outline = body_outline(cut, drawing.room.bodies, number)
        if len(outline):
            pen.fill(outline, OTHER, edge=INK_HEX, wide_pt=0.4, order=4.0)
    own = body_outline(cut, drawing.room.bodies, plan.line)
    if len(own) and plan.along == "ceiling" and not cut.upright:
        # what it hangs by: where is not stated, so one line stands for all
        top = np.array([(own[:, 0].min() + own[:, 0].max()) / 2, own[:, 1].max()])
        others = [s for s in cut.segments if not s.name.startswith("housing")]
        up, which = first_met(top, np.array([0.0, 1.0]), others, 1e-4)
        if which >= 0 and up > 0.02:
            pen.line([top, top + np.array([0.0, up])], INK_HEX, 0.5, order=3.9)
    if len(own):
        pen.fill(own, HOUSING, edge=INK_HEX, wide_pt=0.6, order=4.1)
        pen.keep_off(own)
    off = 0.25 * pen.mm * cut.facing
    pen.line(cut.ends_m + off, LIGHT, 1.6, order=4.3, avoid=False)


def draw_light(pen: Pen, drawing: Drawing, *, curve_mm: float) -> None:
    """Candela curve at its tilt, main beam, cut-off lines with their penumbrae.

    Parameters
    ----------
    pen : Pen
        Draws.
    drawing : Drawing
        What.
    curve_mm : float
        Length of the peak in the curve, on paper; 0 leaves the curve out.
    """
    section = drawing.section
    cut = section.cut
    if curve_mm > 0:
        aims, candela = candela_in_section(cut, section.line, 720)
        ways = np.stack([cut.direction(float(aim)) for aim in aims])
        reach = curve_mm * pen.mm * candela / max(float(candela.max()), 1e-12)
        curve = cut.source_m + reach[:, None] * ways
        pen.fill(curve, CURVE, order=2.4, alpha=0.3)
        pen.line(np.vstack([curve, curve[:1]]), CURVE, 0.8, order=2.45, avoid=False)
    for line in section.cut_offs:
        wedge = np.array([line.edge_m, line.full_light_m, line.full_shadow_m])
        pen.fill(wedge, PENUMBRA, order=1.3)
        pen.line([cut.source_m, line.lands_m], CUT, 0.9, DASH_CUT, order=3.2)
    way = cut.direction(section.plan.beam_aim_rad)
    distance, which = first_met(cut.source_m, way, cut.segments)
    if which >= 0:
        pen.line([cut.source_m, cut.source_m + distance * way], LIGHT, 1.1, order=3.3, arrow_mm=2.6)


def draw_sight_lines(pen: Pen, drawing: Drawing) -> None:
    """Lines of sight at which seen turns to hidden; where nobody sees it, the nearest to it."""
    section = drawing.section
    lines = [one for sight in section.sights for one in sight_lines(section.cut, sight)]
    drawn: list[Floats] = []
    for one in sorted(lines, key=lambda one: -float(np.hypot(*(one.eye_m - one.opening_m)))):
        way = (one.eye_m - one.opening_m) / np.hypot(*(one.eye_m - one.opening_m))
        # several eyes on one line: dashes upon dashes would look like another kind of line
        if any(np.abs(way - other).max() < 1e-4 for other in drawn):
            continue
        drawn.append(way)
        pen.line([one.eye_m, one.opening_m], EYE, 0.7, DASH_EYE, order=3.1)
    grazing = grazing_line(section)
    if len(grazing):
        pen.line(grazing, EYE, 0.7, DASH_EYE, order=3.1)
