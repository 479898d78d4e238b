"""A section's figures in words: what stands beside the drawing, and what `check` warns of."""

import math

import numpy as np
from numpy.typing import NDArray

from rakelight.measure.cutoff_lines import CutOffLine
from rakelight.measure.section_numbers import RunSection, place_on
from rakelight.measure.sight_ranges import SightRange
from rakelight.scene.scene import Scene
from rakelight.study.section_checks import named_eye_numbers, place_words
from rakelight.tell.section_parts import Drawing, peak_lands
from rakelight.units import say_angle, say_number

Floats = NDArray[np.float64]
#: (kind, name, value): the kind colours the name as its line is drawn.
Fact = tuple[str, str, str]


def facts(scene: Scene, drawing: Drawing) -> list[Fact]:
    """Everything that a section says beside its drawing, in order; empty rows part it.

    Parameters
    ----------
    scene : Scene
        The scene.
    drawing : Drawing
        Its section and unit.
    """
    section, say = drawing.section, drawing.say
    plan, cut = section.plan, section.cut
    out: list[Fact] = []
    if plan.kind != "free":
        against = ", against" if plan.against else ""
        out.append(("", "setback", f"{say(plan.setback_m)}{against}"))
        out.append(("", "clear gap", f"{say(plan.clear_gap_m)} to the wall's highest point"))
        if len(cut.profile_m):
            out.append(("", "on site", f"{say(plan.backing_m)} from backing to centreline"))
    if not cut.upright:
        out.append(("", "opening", f"{say(plan.height_m)} over the floor, {_drop(drawing)}"))
        out.append(("", "lowest edge", f"{say(plan.lowest_edge_m)} over the floor"))
    if not plan.housing_stated:
        out.append(("", "housing", "its size is an assumption"))
    out.append(("", "", ""))
    on, at = peak_lands(section)
    tilt = f"{_degrees(plan.tilt_rad)}; the peak then points {_aim(section)}"
    out.append(("", "tilt", tilt))
    if on:
        out.append(("beam", "main beam", f"lands {said_place(drawing, on, at)}"))
    per_metre = float(section.line.candela_per_metre(_toward(section)))
    out.append(
        ("beam", "peak", f"{say_number(per_metre)} cd per metre of lit length at full output")
    )
    for line in section.cut_offs:
        out.append(("", "", ""))
        out += _cut_off(drawing, line)
    if section.sights:
        out.append(("", "", ""))
    for sight in section.sights:
        out.append(("eye", f"eye {say(sight.eye_m)}", said_sight(drawing, sight)))
    named = {n.key: n.value for n in named_eye_numbers(scene, plan)}
    for key, value in named.items():
        if key.endswith(".seen"):
            name = key.removesuffix(".seen").rsplit(".eye.", 1)[1]
            away = say(named[key.removesuffix("seen") + "away_m"])
            says = f"sees it, {away} away" if value else "does not see it"
            out.append(("eye", name, says))
    text = said_screen(drawing)
    if text:
        out.append(("eye", "to hide it", text))
    return out


def _toward(section: RunSection) -> Floats:
    way = section.cut.direction(section.plan.beam_aim_rad)
    out: Floats = way[0] * section.cut.out + way[1] * section.cut.up
    return out


def _drop(drawing: Drawing) -> str:
    plan = drawing.section.plan
    if plan.drop_m < 0:
        return f"{drawing.say(-plan.drop_m)} above the ceiling's plane"
    return f"{drawing.say(plan.drop_m)} below the ceiling"


def _degrees(angle_rad: float) -> str:
    return say_angle(angle_rad).replace(" deg", "°")


def _aim(section: RunSection) -> str:
    way = section.cut.direction(section.plan.beam_aim_rad)
    if section.cut.upright:
        side = "toward" if way[0] < 0 else "away from"
        angle = math.atan2(abs(float(way[0])), abs(float(way[1])))
        return f"{_degrees(angle)} from along the wall, {side} it"
    side = "toward the wall" if way[0] < 0 else "away from the wall"
    if way[1] > 0:
        return f"{_degrees(math.asin(float(way[1])))} above horizontal, {side}"
    angle = math.atan2(abs(float(way[0])), -float(way[1]))
    return f"{_degrees(angle)} from straight down, {side}" if angle > 1e-4 else "straight down"


def said_place(drawing: Drawing, on: str, point: Floats) -> str:
    """Where something lands: height up a wall, or distance from the wall along the rest."""
    return place_words(drawing.section, on, point, drawing.unit)


def _cut_off(drawing: Drawing, line: CutOffLine) -> list[Fact]:
    section, say = drawing.section, drawing.say
    place = said_place(drawing, line.on, line.lands_m)
    low, high = sorted(
        place_on(section, line.on, point) for point in (line.full_light_m, line.full_shadow_m)
    )
    out: list[Fact] = [
        ("cut", "cut-off", f"{line.thing}: {place}, soft from {say(low)} to {say(high)}")
    ]
    if not math.isnan(line.from_corner_m):
        ways = [f"edge at {say(line.edge_for_corner_m)}"]
        if not math.isnan(line.source_for_corner_m):
            ways.append(f"opening at {say(line.source_for_corner_m)}")
        if line.distance_for_corner_m > 0:
            ways.append(f"opening {say(line.distance_for_corner_m)} from the wall")
        out.append(
            (
                "cut", "to the corner",
                f"{say(line.from_corner_m)}; exactly there with {', '.join(ways[:-1])}"
                f"{' or ' if len(ways) > 1 else ''}{ways[-1]}",
            )
        )  # fmt: skip
    for by, lines in section.at_tilts():
        match = [c for c in lines if (c.thing, c.on) == (line.thing, line.on)]
        if match and by > 0:
            soft = say(match[0].softness_m)
            moved = math.hypot(*(match[0].lands_m - line.lands_m))
            out.append(
                (
                    "cut", f"tilted {_degrees(by)} more",
                    f"moves by {say(moved)}, soft over {soft} instead of {say(line.softness_m)}",
                )
            )  # fmt: skip
    return out


def said_sight(drawing: Drawing, sight: SightRange) -> str:
    """From where an eye sees the opening, in words."""
    say = drawing.say
    if not sight.seen_m:
        return f"never sees it from {say(sight.from_m)} on"
    if not sight.hidden_m:
        return "sees it from everywhere"
    spans = [
        f"{say(low)} {'to ' + say(high) if sight.to_m - high > 1e-6 else 'on'}"
        for low, high in sight.hidden_m
    ]
    return f"hidden from {' and from '.join(spans)}"


def said_screen(drawing: Drawing) -> str:
    """What height of lip or fascia would do both, and what this one does; empty without one."""
    section, say = drawing.section, drawing.say
    screen, edges = section.screen, section.edges
    if screen is None or edges is None:
        return ""
    lean = float(section.cut.up[2])
    now = say(screen.height_m * lean)
    word = "upper" if screen.over else "lower"
    start = f"{screen.thing}, {word} edge at {now}: "
    hides, clears = say(edges.hides_m * lean), edges.clears_m * lean
    free = (
        clears > screen.height_m + 5 if screen.over else clears < 0.3
    )  # the throw does not go there
    if screen.over:
        does = f"hides from {hides} up"
        lets = "" if free else f"lets the half-peak line out up to {say(clears)}"
    else:
        does = f"hides from {hides} down"
        lets = "" if free else f"lets the half-peak line out down to {say(clears)}"
    both = "" if edges.possible else "; no height does both"
    hiding, clearing = edges.holds(screen.height_m)
    state = {
        (True, True): "it does both" if lets else "it hides",
        (True, False): "it hides, and cuts into the throw",
        (False, True): "it does not hide from every eye",
        (False, False): "it neither hides nor clears",
    }[(hiding, clearing)]
    return f"{start}{does}{', ' + lets if lets else ''}{both}; {state}"
