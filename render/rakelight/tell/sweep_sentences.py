"""What a sweep shows, in plain sentences made of its numbers and nothing else."""

import math
from collections.abc import Callable, Sequence

from rakelight.measure.ceiling_profile import ENDS_M
from rakelight.study.step import Step
from rakelight.study.sweep import Sweep
from rakelight.tell.sentences import HARDLY, LARGEST_RATIO, NEARLY_ALL, SAME, sentence
from rakelight.tell.shown import Units
from rakelight.tell.sweep_story import Told, plan_of, said_value
from rakelight.tell.throw_words import jump_words, second_words
from rakelight.units import say_illuminance, say_length, say_ratio

#: Heights closer than this are one height: no band is finer. [m]
_BAND_M = 0.05
#: How far off an edge of the wall a zone still counts as reaching it. [m]
_EDGE_M = 0.03


def step_sentence(sweep: Sweep, told: Told, units: Units) -> str:
    """One sentence for one step.

    Parameters
    ----------
    sweep : Sweep
        For its surface and its knobs.
    told : Told
        The step.
    units : Units
        The reader's.
    """
    named = [
        said_value(one.knob, label)
        for one, label in zip(sweep.ranges, told.wish.labels, strict=True)
    ]
    head = ", ".join(named)
    head = head[:1].upper() + head[1:]
    if is_level(sweep.surface):
        return f"{head}: {_level_said(sweep, told.step, units)}."
    said = sentence(told.step.numbers, plan_of(sweep, told.step), units, sweep.surface)
    return f"{head}: {said[:1].lower()}{said[1:]}"


def sweep_sentence(sweep: Sweep, told: Sequence[Told], units: Units) -> str:
    """One sentence for a whole sweep over one range: from its first step to its last.

    What does not go one way all along is said to have its most or least in between.

    Parameters
    ----------
    sweep : Sweep
        For its surface and its knob.
    told : sequence of Told
        The steps that are there, in order.
    units : Units
        The reader's.
    """
    knob = sweep.ranges[0].knob
    if not told:
        return "No step could be built."
    if len(told) == 1:
        return f"Only {said_value(knob, told[0].label)} could be built, so nothing is compared."
    first, last = told[0], told[-1]
    if knob.kind == "name":
        start = f"From {first.label} to {last.label}"
    else:
        start = f"As the {knob.noun} goes from {first.label} to {last.label}"
    parts = _level_parts(sweep, told, units) if is_level(sweep.surface) else []
    parts = parts or _wall_parts(sweep, told, units)
    body = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
    return f"{start}, {body}."


def is_level(surface: str) -> bool:
    """Whether a surface is a ceiling or floor rather than a wall."""
    return surface.split()[0] in ("ceiling", "floor")


def _wall_parts(sweep: Sweep, told: Sequence[Told], units: Units) -> list[str]:
    name = sweep.surface
    out = []
    drama = [_zone_said(name, item.step, units) for item in told]
    if drama[0] and drama[-1]:
        if drama[0] == drama[-1]:
            said = f"the drama stays at {drama[0]}"
        else:
            said = f"the drama moves from {drama[0]} to {drama[-1]}"
        between = _between(
            told,
            [item.step.value(f"{name}.drama_centre_m") for item in told],
            lambda v: f"its middle {_height(v, units)} up",
            apart=_BAND_M,
            words=("highest", "lowest"),
        )
        out.append(said + between)
    elif drama[0] or drama[-1]:
        out.append("the texture fades until it hardly shows" if drama[0] else "the texture appears")
    else:
        heights = [item.step.value(f"{name}.bright_band_at_m") for item in told]
        ends = [_height(v, units) for v in (heights[0], heights[-1])]
        moved = f"moves from {ends[0]} to {ends[1]} up"
        stays = f"stays at {ends[0]} up"
        out.append(f"the brightest band {stays if ends[0] == ends[1] else moved}")
    out.append(_light_part(told, f"{name}.foot_lx", "the base", units))
    out.append(_light_part(told, average_key(name, told[0].step), "the wall's average", units))
    out.append(_ratio_part(told, ratio_key(sweep, told[0].step)))
    return [part for part in out if part]


def _level_parts(sweep: Sweep, told: Sequence[Told], units: Units) -> list[str]:
    name = sweep.surface
    tag = sweep.tags[0]
    out = [_light_part(told, f"{name}.average_lx", f"the {name.split()[0]}'s average", units)]
    out.append(_light_part(told, f"{name}.max_lx", "its brightest spot", units))
    half = [item.step.value(f"run.{tag}.ceiling.half_m") for item in told]
    if all(math.isfinite(v) for v in half):
        ends = [_height(v, units) for v in (half[0], half[-1])]
        if ends[0] == ends[1]:
            out.append(f"half of {tag}'s peak is still left {ends[0]} out")
        else:
            said = f"half of {tag}'s peak is left {ends[0]} out at first and {ends[1]} at last"
            between = _between(
                told,
                half,
                lambda v: _height(v, units),
                apart=_BAND_M,
                words=("farthest", "nearest"),
            )
            first = [item.step.value(f"run.{tag}.ceiling.half_first_m") for item in told]
            jump = jump_words([item.label for item in told], first, half)
            out.append(said + between + (f" ({jump})" if jump else ""))
    key = ratio_key(sweep, told[0].step)
    inside = f"max:min {_height(ENDS_M, units)} and more off the walls"
    across = key.startswith("run.")  # less the bright edges, of which the spot is one
    out.append(_ratio_part(told, key).replace("max:min", inside if across else "max:min", 1))
    back = [item.step.value(f"run.{tag}.cove_back.ratio") for item in told]
    if all(math.isfinite(v) for v in (back[0], back[-1])):
        said = f"{back[0]:.2f} to {back[-1]:.2f}"
        moved = f"goes from {said} of the ceiling's brightest part"
        between = _between(told, back, lambda v: f"{v:.2f}", apart=SAME * max(back[0], back[-1]))
        out.append(f"the back of the cove {moved}{between}")
    return [part for part in out if part]


def _level_said(sweep: Sweep, step: Step, units: Units) -> str:
    name, tag = sweep.surface, sweep.tags[0]
    said = [
        say_illuminance(step.value(f"{name}.{key}"), units.illuminance)
        for key in ("average_lx", "max_lx")
    ]
    text = f"the {name.split()[0]} gets {said[0]} on average and {said[1]} at most"
    peak, half = (step.value(f"run.{tag}.ceiling.{key}") for key in ("own_peak_m", "half_m"))
    if math.isfinite(peak) and math.isfinite(half):
        text += (
            f"; {tag}'s own light peaks {_height(peak, units)} out from it, and half of that is "
            f"left {_height(half, units)} out"
        )
        first, second, share = (
            step.value(f"run.{tag}.ceiling.{key}")
            for key in ("half_first_m", "second_m", "second_over_peak")
        )
        text += second_words(first, half, second, share, lambda v: _height(v, units))
    return text


def average_key(surface: str, step: Step) -> str:
    """Key of the average that a meter would see: on the mean plane where there is a relief."""
    flat = f"{surface}.flat.average_lx"
    return flat if math.isfinite(step.value(flat)) else f"{surface}.average_lx"


def _light_part(told: Sequence[Told], key: str, what: str, units: Units) -> str:
    values = [item.step.value(key) for item in told]
    one, other = values[0], values[-1]
    if not (math.isfinite(one) and math.isfinite(other)):
        return ""
    said = [say_illuminance(v, units.illuminance) for v in (one, other)]
    text = f"{what} {_goes(one, other)}"
    if abs(other - one) >= SAME * max(abs(one), 1e-12):
        text += f" ({said[0].removesuffix(' ' + units.illuminance)} to {said[1]})"
    else:
        text += f" ({said[0]})"
    return text + _between(
        told, values, lambda v: say_illuminance(v, units.illuminance), apart=SAME * max(one, other)
    )


def _goes(one: float, other: float) -> str:
    """How a quantity changes, in the words that its ratio allows."""
    if not one > 0:
        return "gets light" if other > 0 else "stays dark"
    ratio = other / one
    if abs(ratio - 1) < SAME:
        return "stays as it is"
    for low, high, word in (
        (1.9, 2.1, "doubles"),
        (2.85, 3.15, "trebles"),
        (0.475, 0.525, "halves"),
    ):
        if low <= ratio <= high:
            return word
    if ratio >= 2:
        return f"rises to {ratio:.1f} times"
    return f"rises by {100 * (ratio - 1):.0f} %" if ratio > 1 else f"falls to {100 * ratio:.0f} %"


def ratio_key(sweep: Sweep, step: Step) -> str:
    """Key of the max:min that is told: across a ceiling in the run's section, else the wall's."""
    across = f"run.{sweep.tags[0]}.ceiling.max_to_min"
    level = is_level(sweep.surface) and math.isfinite(step.value(across))
    return across if level else f"{sweep.surface}.max_to_min"


def _ratio_part(told: Sequence[Told], key: str) -> str:
    values = [item.step.value(key) for item in told]
    one, other = values[0], values[-1]
    if not (math.isfinite(one) and math.isfinite(other)) or min(one, other) > LARGEST_RATIO:
        return ""
    said = [say_ratio(v) for v in (one, other)]
    if said[0] == said[1]:
        return f"max:min stays at {said[0]}"
    text = f"max:min goes from {said[0]} to {said[1]}"
    return text + _between(told, values, say_ratio, apart=SAME * max(one, other))


def _between(
    told: Sequence[Told],
    values: Sequence[float],
    say: Callable[[float], str],
    *,
    apart: float,
    words: tuple[str, str] = ("most", "least"),
) -> str:
    """What lies beyond both ends in between, if anything does."""
    low, high = sorted((values[0], values[-1]))
    out = []
    for word, value, beyond in (
        (words[0], max(values), max(values) - high),
        (words[1], min(values), low - min(values)),
    ):
        if beyond > apart:
            out.append(f"{word} at {told[list(values).index(value)].label}: {say(value)}")
    return f" ({'; '.join(out)})" if out else ""


def _zone_said(surface: str, step: Step, units: Units) -> str:
    """Where the drama is, as a place on the wall; empty where texture hardly shows."""
    if not step.value(f"{surface}.texture_over_mean") >= HARDLY:
        return ""
    height = step.value(f"{surface}.height_m")
    if step.value(f"{surface}.drama_share") >= NEARLY_ALL:
        return "nearly the whole height"
    said = []
    for low, high in zones_of(surface, step):
        if high >= height - _EDGE_M:
            said.append(f"the top {_height(height - low, units)}")
        elif low <= _EDGE_M:
            said.append(f"the lowest {_height(high, units)}")
        else:
            said.append(f"heights of {_span(low, high, units)}")
    return " and ".join(said)


def _span(low_m: float, high_m: float, units: Units) -> str:
    """Two heights with one unit where it is the same: ``600-1500 mm``."""
    low, high = _height(low_m, units), _height(high_m, units)
    number, _, unit = low.rpartition(" ")
    if units.length in ("m", "mm") and high.endswith(f" {unit}"):
        return f"{number}\u2013{high}"
    return f"{low} to {high}"


def zones_of(surface: str, step: Step) -> list[tuple[float, float]]:
    """Drama zones from a step's numbers, from the foot up. [m]"""
    out = []
    for number in range(1, 100):
        tag = "drama_zone" if number == 1 else f"drama_zone_{number}"
        low, high = (step.value(f"{surface}.{tag}_{end}_m") for end in ("low", "high"))
        if not math.isfinite(low):
            break
        out.append((low, high))
    return out


def _height(height_m: float, units: Units) -> str:
    """Height to 10 mm or an inch: bands of 50 mm say no more than that."""
    step_m = 0.0254 if units.length in ("ft", "in") else 0.01
    return say_length(round(height_m / step_m) * step_m, units.length)
