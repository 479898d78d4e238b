"""What a lighting designer would want to know before building it; pure functions.

Thresholds are ours unless a source stands beside them; each function returns its caveats, and
`warnings_of` asks them all.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np

from rakelight.build.repeats import repeats
from rakelight.scene.camera import Camera
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Caveat
from rakelight.scene.surfaces import Room, Surface
from rakelight.scene.texture import Texture
from rakelight.units import LengthUnit, say_angle, say_length

# common practice, no source: nearer than this, every joint and trowel mark of a flat wall shows
CLOSE_RUN_M = 0.150
SMOOTH_DEPTH_M = 0.003
FLAT_FACES = 0.7
# within this many opening widths one far-field distribution is an assumption
NEAR_FIELD_WIDTHS = 5.0
# a relief that stands out more than this share of the setback shades most of itself
DEEP_SHARE = 1 / 3
# a beam reaches as far as half of its peak intensity, as beam angles are stated
HALF = 0.5
# scallops that swing by more than this, this far from the run, are seen as scallops; ours
GAP_RIPPLE = 0.25
GAP_SEEN_M = 0.3
# a run over this share of its wall is meant for all of it, and a dark end shorter than this,
# or than twice the setback, is filled from the side; ours
WHOLE_WALL = 0.75
LEAST_DARK_END_M = 0.15


def warnings_of(
    room: Room,
    plans: tuple[RunPlan, ...],
    textures: Mapping[str, Texture],
    cameras: Sequence[Camera],
    room_height_m: float,
    top_m: float,
    unit: LengthUnit,
) -> tuple[Caveat, ...]:
    """Every caveat of a built scene, runs first.

    Parameters
    ----------
    room : Room
        Its surfaces.
    plans : tuple of RunPlan
        Its runs.
    textures : mapping of str to Texture
        What each wall with a relief was made from, by surface name.
    cameras : sequence of Camera
        The scene's: what none of them shows is no fault.
    room_height_m : float
        Floor to ceiling. [m]
    top_m : float
        Left out of the measured band under the ceiling. [m]
    unit : {"m", "mm", "ft", "in"}
        Unit of the lengths in the texts.
    """
    found: list[Caveat] = []
    for plan in plans:
        wall = room.surface(plan.lights)
        found += throws_away(plan)
        found += gaps_show(plan, unit)
        found += dark_ends(plan, unit)
        found += beam_misses(plan, unit)
        found += close_on_smooth(plan, wall, unit)
        found += too_deep(plan, wall, unit)
        found += near_field(plan, room_height_m, top_m, unit)
        found += up_in_a_slot(plan, unit)
    found += repeats({name: room.surface(name) for name in textures}, textures, cameras, unit)
    found += meets_another_relief(room)
    if not plans:
        found.append(Caveat("no_runs", "scene", "There is no run: nothing in it gives light."))
    return tuple(found)


def throws_away(plan: RunPlan) -> list[Caveat]:
    """The file's light leans away from the wall, or its peak does."""
    if plan.throw_toward_wall < 0 and plan.lights not in ("ceiling", "floor"):
        says = (
            f"{plan.file} throws away from the {plan.lights} wall as it is turned in plan; "
            'leave out "turn", or turn it by 180 deg.'
        )
    elif plan.lights in ("ceiling", "floor"):
        wrong = plan.lights == "ceiling"
        if (math.cos(plan.beam_aim_rad) > 0) != wrong or abs(math.cos(plan.beam_aim_rad)) < 1e-6:
            return []
        says = f"the peak points {'down' if wrong else 'up'}, away from the {plan.lights}."
    elif plan.beam_aim_rad < -1e-9:
        says = f"the peak points {say_angle(-plan.beam_aim_rad)} away from the {plan.lights} wall."
    else:
        return []
    return [Caveat("throws_away", f"run {plan.tag}", says)]


def beam_misses(plan: RunPlan, unit: LengthUnit) -> list[Caveat]:
    """The file's peak lands elsewhere, and the wall gets less than half of it.

    A wash whose peak meets the floor just before the wall's foot is aimed as the trade does.
    """
    if (
        plan.kind != "wall"
        or plan.beam_on_wall >= HALF
        or plan.peak_on == plan.lights
        or plan.beam_aim_rad < -1e-9
    ):
        return []
    at = say_length(plan.peak_at_m, unit)
    where = f"on the {plan.peak_on}, {at} from the {plan.lights} wall"
    if plan.peak_on not in ("floor", "ceiling"):
        where = f"on the {plan.peak_on} wall"
    says = (
        f"the beam misses the {plan.lights} wall: the peak lands {where}, and the wall gets at "
        f"most {plan.beam_on_wall:.0%} of it."
    )
    return [Caveat("beam_misses", f"run {plan.tag}", says)]


def gaps_show(plan: RunPlan, unit: LengthUnit) -> list[Caveat]:
    """Gaps leave scallops that are still plain below the band under the run.

    Peak-to-trough of an endless row whose light falls as the cosine along its axis, from the
    first harmonic, 4 sinc(a / p) (1 + k r) exp(-k r) with k = 2 pi / p, r the distance from
    the line and a / p the lit share (Fourier transform of 1 / (r^2 + u^2)^2, re-derived).
    """
    if plan.gap_m <= 0 or plan.count < 2:
        return []
    pitch = plan.luminaire_m + plan.gap_m
    away = math.hypot(plan.setback_m, GAP_SEEN_M)
    ripple = row_ripple(plan.luminaire_m, plan.gap_m, away)
    if ripple <= GAP_RIPPLE or plan.kind not in ("wall", "upright"):
        return []
    clears = away
    while row_ripple(plan.luminaire_m, plan.gap_m, clears) > GAP_RIPPLE and clears < 10 * pitch:
        clears *= 1.02
    below = math.sqrt(max(clears**2 - plan.setback_m**2, 0.0))
    says = (
        f"gaps of {say_length(plan.gap_m, unit)} leave scallops: {GAP_SEEN_M * 1000:.0f} mm from "
        f"the run the light swings by {ripple:.0%}, and only {say_length(below, unit)} from it by "
        f"less than {GAP_RIPPLE:.0%}; close the gaps, or set the run back."
    )
    return [Caveat("gaps_show", f"run {plan.tag}", says)]


def row_ripple(lit_m: float, gap_m: float, distance_m: float) -> float:
    """First harmonic's peak-to-trough over mean of an endless row with gaps, as `gaps_show`."""
    pitch = lit_m + gap_m
    k = 2 * math.pi * distance_m / pitch
    share = math.pi * lit_m / pitch
    return 4 * abs(math.sin(share) / share) * (1 + k) * math.exp(-k)


def dark_ends(plan: RunPlan, unit: LengthUnit) -> list[Caveat]:
    """A run meant for the whole wall stops short of an end, where the wall goes dark.

    Of runs that light a part of the wall on purpose nothing is said.
    """
    if math.isnan(plan.span_m) or plan.kind not in ("wall", "out") or plan.lights == "floor":
        return []
    if plan.end_m - plan.start_m < WHOLE_WALL * plan.span_m:
        return []
    least = max(2 * plan.setback_m, LEAST_DARK_END_M)
    short = [
        (f"{say_length(dark, unit)} at the {side}", dark)
        for side, dark in (("left", plan.start_m), ("right", plan.span_m - plan.end_m))
        if dark > least
    ]
    if not short:
        return []
    where = " and ".join(words for words, _ in short)
    says = (
        f"it stops short of the wall's end, {where}: the corner goes dark; bring it within "
        f"{say_length(least, unit)}, or end it where the wall itself breaks."
    )
    return [Caveat("dark_ends", f"run {plan.tag}", says)]


def close_on_smooth(plan: RunPlan, wall: Surface, unit: LengthUnit) -> list[Caveat]:
    """A close run on a flat wall, or on flat faces with joints, shows every flaw."""
    if plan.kind not in ("wall", "upright"):
        return []
    if plan.setback_m >= CLOSE_RUN_M or flat_share(wall) < FLAT_FACES:
        return []
    says = (
        f"only {say_length(plan.setback_m, unit)} from a nearly flat surface, a run shows every "
        "joint, trowel mark and screw head; set it back or have the wall finished for it."
    )
    return [Caveat("close_on_smooth", f"run {plan.tag}", says)]


def flat_share(wall: Surface) -> float:
    """Share of a wall that lies within 1.5 mm of its commonest height: 1 for a bare wall.

    High for plaster, and for tiles or blocks whose faces are flush between their joints.
    """
    if wall.relief is None:
        return 1.0
    # every few vertices are enough for a share
    skip = max(1, min(wall.relief.heights_m.shape) // 300)
    heights = wall.relief.heights_m[::skip, ::skip][wall.relief.mask[::skip, ::skip]]
    if heights.size == 0:
        return 1.0
    close = np.abs(heights - np.median(heights)) <= SMOOTH_DEPTH_M / 2
    return float(close.mean())


def too_deep(plan: RunPlan, wall: Surface, unit: LengthUnit) -> list[Caveat]:
    """The relief stands out so far that shadows run into one another."""
    if plan.kind not in ("wall", "upright"):
        return []
    if wall.relief is None or wall.relief.highest_m <= DEEP_SHARE * plan.setback_m:
        return []
    highest = wall.relief.highest_m
    says = (
        f"the relief stands out {say_length(highest, unit)}, more than a third of the setback: "
        "shadows run into one another and the foot of the wall goes dark; from "
        f"{say_length(highest / DEEP_SHARE, unit, rounding='up')} on they part."
    )
    return [Caveat("too_deep", f"run {plan.tag}", says)]


def near_field_words(plan: RunPlan, room_height_m: float, unit: LengthUnit) -> tuple[float, str]:
    """From which height on a wall lies within five opening widths of the run, and words for it.

    Returns
    -------
    float
        Height over the floor; infinite if no part of the wall does. [m]
    str
        For a warning or a note.
    """
    limit = NEAR_FIELD_WIDTHS * plan.opening_width_m
    if plan.setback_m >= limit or plan.kind != "wall" or plan.along == "floor":
        return math.inf, ""
    below = math.sqrt(limit**2 - plan.setback_m**2)
    height = room_height_m - plan.drop_m - below
    return height, (
        f"above {say_length(height, unit)} the wall is within five opening widths "
        f"({say_length(limit, unit)}) of the run. Near field: mock it up."
    )


def near_field(plan: RunPlan, room_height_m: float, top_m: float, unit: LengthUnit) -> list[Caveat]:
    """The near field reaches down into the band that is measured; above it, it is a note."""
    height, words = near_field_words(plan, room_height_m, unit)
    if height >= room_height_m - top_m:
        return []
    return [Caveat("near_field", f"run {plan.tag}", words)]


def near_field_notes(
    plans: tuple[RunPlan, ...], room_height_m: float, top_m: float, unit: LengthUnit
) -> list[str]:
    """What `near_field` leaves to a note: every graze has some of it right under the run."""
    found = [(plan.tag, *near_field_words(plan, room_height_m, unit)) for plan in plans]
    return [
        f"run {tag}: {words}"
        for tag, height, words in found
        if room_height_m - top_m <= height < room_height_m
    ]


def up_in_a_slot(plan: RunPlan, unit: LengthUnit) -> list[Caveat]:
    """The opening lies above the ceiling's plane."""
    if plan.drop_m >= 0 or plan.in_slot:
        return []
    says = (
        f"the opening is {say_length(-plan.drop_m, unit)} up in a slot; the slot's edges are not "
        "in the scene and cut off nothing."
    )
    return [Caveat("slot", f"run {plan.tag}", says)]


def meets_another_relief(room: Room) -> list[Caveat]:
    """Two reliefs meet at a corner, where reflected light knows their mean planes alone."""
    having = [s.name for s in room.surfaces if s.relief is not None]
    corners = [("main", "left"), ("main", "right"), ("opposite", "left"), ("opposite", "right")]
    return [
        Caveat(
            "reliefs_meet",
            f"relief on {a}",
            f"the reliefs on {a} and {b} meet at a corner: direct light is shaded by both, but in "
            "reflected light neither's stones hide the other.",
        )
        for a, b in corners
        if a in having and b in having
    ]
