"""A run's section in numbers: cut-off lines, sight, and what lip or fascia would do both."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.cutoff_lines import CutOffLine, cut_off_lines, turned_cut
from rakelight.measure.section_cut import SectionCut, cut_square
from rakelight.measure.sight import EYES_M, NEAREST_EYE_M
from rakelight.measure.sight_ranges import (
    EdgeRange,
    Screen,
    SightRange,
    edge_range,
    half_peak_rad,
    screen_of,
    sight_range,
)
from rakelight.scene.lit_line import LitLine
from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.surfaces import Room

Floats = NDArray[np.float64]

#: Change of tilt that is tried where the hardware states no click. [rad]
TRIED_RAD = math.radians(5.0)


@dataclass(frozen=True, slots=True, eq=False)
class RunSection:
    """One run's section and all that its geometry tells.

    Parameters
    ----------
    plan, line : RunPlan, LitLine
        The run.
    cut : SectionCut
        The room, cut square through it.
    cut_offs : tuple of CutOffLine
        Where what is built ends its light.
    sights : tuple of SightRange
        Where eyes see its opening; empty for an upright run, which no floor plan cuts.
    screen : Screen or None
        What hides the opening from the room.
    edges : EdgeRange or None
        Heights of the screen's edge that would hide it and clear the throw.
    half_rad : float
        Beam aim at which half of the peak is left, on the screen's side; nan: none. [rad]
    """

    plan: RunPlan
    line: LitLine
    cut: SectionCut
    cut_offs: tuple[CutOffLine, ...]
    sights: tuple[SightRange, ...]
    screen: Screen | None
    edges: EdgeRange | None
    half_rad: float

    def at_tilts(self) -> tuple[tuple[float, tuple[CutOffLine, ...]], ...]:
        """Cut-off lines with the housing turned one click, or 5 deg, either way. [rad, lines]"""
        by = self.plan.click_rad or TRIED_RAD
        return tuple(
            (sign * by, cut_off_lines(turned_cut(self.cut, sign * by))) for sign in (-1.0, 1.0)
        )


def run_section(
    room: Room,
    plan: RunPlan,
    line: LitLine,
    *,
    from_start_m: float | None = None,
    eyes_m: Sequence[float] = EYES_M,
    nearest_m: float = NEAREST_EYE_M,
) -> RunSection:
    """Cut a room square through a run and read the geometry off.

    Parameters
    ----------
    room : Room
        The room.
    plan, line : RunPlan, LitLine
        The run.
    from_start_m : float, optional
        Where along it; not given: in its middle. [m]
    eyes_m : sequence of float
        Heights of eyes over the floor. [m]
    nearest_m : float
        No eye comes nearer to the wall. [m]

    Raises
    ------
    ValueError
        As `cut_square`.
    """
    cut = cut_square(room, plan, line, from_start_m)
    half = half_peak_rad(cut, line)
    sights: tuple[SightRange, ...] = ()
    screen, edges = None, None
    if not cut.upright:
        sights = tuple(sight_range(cut, eye, nearest_m) for eye in eyes_m)
        screen = screen_of(cut)
        if screen is not None:
            edges = edge_range(cut, screen, half, eyes_m, nearest_m)
    return RunSection(plan, line, cut, cut_off_lines(cut), sights, screen, edges, half)


def place_on(section: RunSection, on: str, point_m: Floats) -> float:
    """Place on a surface as people say it: height on a wall, else distance from the wall. [m]"""
    wall = on in ("main", "opposite", "left", "right")
    upright = section.cut.upright
    if upright:
        return float(point_m[1] if on == section.cut.wall else point_m[0])
    if wall or _is_upright(section.cut, on):
        return float(section.cut.over_floor_m(point_m))
    return float(point_m[0])


def _is_upright(cut: SectionCut, name: str) -> bool:
    return any(s.name == name and abs(s.normal[0]) > abs(s.normal[1]) for s in cut.segments)


def cut_off_key(section: RunSection, line: CutOffLine) -> str:
    """Key under which a cut-off line's numbers stand, ``run.C1.cutoff.cove-C1.ceiling``."""
    same = [c for c in section.cut_offs if (c.thing, c.on) == (line.thing, line.on)]
    tail = f".{same.index(line) + 1}" if len(same) > 1 else ""
    thing, on = line.thing.replace(" ", "-"), line.on.replace(" ", "-")
    return f"run.{section.plan.tag}.cutoff.{thing}.{on}{tail}"


def section_numbers(section: RunSection) -> tuple[Number, ...]:
    """Every number of a run's section, in SI units; keys begin with ``run.TAG``."""
    plan, cut = section.plan, section.cut
    out: list[Number] = []
    tilts = section.at_tilts()
    for line in section.cut_offs:
        out += _cut_off(section, line, tilts)
    for sight in section.sights:
        key = f"run.{plan.tag}.sight.{sight.eye_m * 1000:.0f}"
        seen, hidden = sight.seen_m, sight.hidden_m
        eye = "an eye at that many mm over the floor"
        nothing = ((math.nan, math.nan),)
        out += [
            Number(f"{key}.seen", float(bool(seen)), "1", f"whether {eye} sees the opening"),
            Number(f"{key}.seen_from_m", (seen or nothing)[0][0], "m", "nearest, from the wall"),
            Number(f"{key}.seen_to_m", (seen or nothing)[-1][1], "m", "farthest"),
            Number(
                f"{key}.hidden_from_m", (hidden or nothing)[0][0], "m",
                "nearest at which it is hidden",
            ),
            Number(f"{key}.hidden_to_m", (hidden or nothing)[-1][1], "m", "farthest likewise"),
        ]  # fmt: skip
    if section.screen is not None and section.edges is not None:
        screen, edges = section.screen, section.edges
        key = f"run.{plan.tag}.screen"
        kind = "lip" if screen.over else "lower edge"
        hides, clears = edges.holds(screen.height_m)
        most, least = ("least", "greatest") if screen.over else ("greatest", "least")
        lean = float(cut.up[2])
        out += [
            Number(f"{key}.edge_m", screen.height_m * lean, "m", f"{screen.thing}: its {kind}"),
            Number(f"{key}.hides_m", edges.hides_m * lean, "m", f"{most} height that hides"),
            Number(f"{key}.clears_m", edges.clears_m * lean, "m", f"{least} that clears the throw"),
            Number(f"{key}.hides", float(hides), "1", "whether it hides from every eye"),
            Number(f"{key}.clears", float(clears), "1", "whether it clears the half-peak line"),
            Number(f"{key}.possible", float(edges.possible), "1", "whether one height does both"),
        ]
    out.append(
        Number(
            f"run.{plan.tag}.half_peak_rad", section.half_rad, "rad",
            "beam aim of the half-peak direction toward the room",
        )
    )  # fmt: skip
    return tuple(out)


def _cut_off(
    section: RunSection,
    line: CutOffLine,
    tilts: Sequence[tuple[float, tuple[CutOffLine, ...]]],
) -> list[Number]:
    key = cut_off_key(section, line)
    lean = float(section.cut.up[2]) if not section.cut.upright else 1.0

    def at(point: Floats) -> float:
        return place_on(section, line.on, point)

    out = [
        Number(f"{key}.at_m", at(line.lands_m), "m", f"cut-off of {line.thing} on the {line.on}"),
        Number(f"{key}.full_light_m", at(line.full_light_m), "m", "all of the opening is seen"),
        Number(f"{key}.full_shadow_m", at(line.full_shadow_m), "m", "none of it is seen"),
        Number(f"{key}.softness_m", line.softness_m, "m", "from the one to the other"),
        Number(f"{key}.edge_out_m", float(line.edge_m[0]), "m", "the edge, from the wall"),
        Number(f"{key}.edge_up_m", float(line.edge_m[1]) * lean, "m", "the edge, over the floor"),
    ]
    if not math.isnan(line.from_corner_m):
        out += [
            Number(f"{key}.from_corner_m", line.from_corner_m, "m", "from there to the corner"),
            Number(
                f"{key}.edge_for_corner_m", line.edge_for_corner_m * lean, "m",
                "height of the edge that would put it into the corner",
            ),
            Number(
                f"{key}.source_for_corner_m", line.source_for_corner_m * lean, "m",
                "or height of the opening",
            ),
            Number(
                f"{key}.distance_for_corner_m", line.distance_for_corner_m, "m",
                "or distance of the opening from the wall; none if there is none",
            ),
        ]  # fmt: skip
    for by, lines in tilts:
        word = "out" if by > 0 else "back"
        match = [c for c in lines if (c.thing, c.on) == (line.thing, line.on)]
        if not match:
            continue
        turned = min(match, key=lambda c: float(np.hypot(*(c.lands_m - line.lands_m))))
        tilted = f"{key}.tilted_{word}"
        out += [
            Number(f"{tilted}.by_rad", by, "rad", "with the housing turned by this"),
            Number(f"{tilted}.at_m", at(turned.lands_m), "m", "where it then lies"),
            Number(f"{tilted}.softness_m", turned.softness_m, "m", "and how soft"),
        ]
    return out
