"""What a still shows, in one client's sentence made of its numbers and nothing else."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.tell.shown import Units, by_key
from rakelight.tell.throw_words import second_words
from rakelight.units import say_illuminance, say_length, say_ratio

# a client reads a ratio up to here; above it the fall from top to foot says more
LARGEST_RATIO = 20.0
# texture under this share of the wall's mean luminance hardly shows (ours, no source)
HARDLY = 0.05
# drama over more of the height than this leaves no flat part to speak of (ours, no source)
NEARLY_ALL = 0.8
# changes under this share are no change to an eye (ours, no source)
SAME = 0.05


@dataclass(frozen=True, slots=True)
class Still:
    """What a sentence compares.

    Parameters
    ----------
    label : str
        As the user calls it: ``graze``.
    numbers : sequence of Number
        From `measure_surface`.
    plan : RunPlan or None
        The run that lights the surface.
    """

    label: str
    numbers: Sequence[Number]
    plan: RunPlan | None = None


def sentence(
    numbers: Sequence[Number], plan: RunPlan | None, units: Units, surface: str = "main"
) -> str:
    """One sentence for a still: where the light and the drama sit, and how even it is.

    Parameters
    ----------
    numbers : sequence of Number
        From `measure_surface`.
    plan : RunPlan or None
        The run that lights the surface.
    units : Units
        The reader's.
    surface : str
        Which surface's numbers to use.

    Raises
    ------
    ValueError
        If the surface's illuminance is not among the numbers.
    """
    found = _of(numbers, surface)
    placed = _placed(plan, units)
    if not found["average_lx"].value > 0:
        return _capital(f"{placed}no light reaches the {_noun(surface)}.")
    it = "it" if placed else f"the {_noun(surface)}"
    if is_level(surface):
        return _capital(f"{placed}{_level_sentence(numbers, found, plan, units, surface)}.")
    text = f"{placed}{it} {_brightest(found, units)} and {_evenness(found, units)}"
    drama = _drama(found, units)
    return _capital(f"{text}{'; ' + drama if drama else ''}.")


def compare_sentence(first: Still, second: Still, units: Units, surface: str = "main") -> str:
    """One sentence on what changes from one still to another.

    Raises
    ------
    ValueError
        If the surface's illuminance is not among the numbers of both.
    """
    one, other = _of(first.numbers, surface), _of(second.numbers, surface)
    if is_level(surface):
        return _level_change(first, second, units, surface)
    parts = [_moves(one, other, "bright_band_at_m", "the brightest band", units)]
    ratios = (one["max_to_min"].value, other["max_to_min"].value)
    if all(math.isfinite(r) for r in ratios) and max(ratios) <= LARGEST_RATIO:
        said = tuple(say_ratio(r) for r in ratios)
        if said[0] == said[1]:
            parts.append(f"leaves its evenness at {said[0]}")
        else:
            word = "evens it out" if ratios[1] < ratios[0] else "makes it less even,"
            parts.append(f"{word} from {said[0]} to {said[1]}")
    else:
        falls = [_share_at_foot(f) for f in (one, other)]
        parts.append(
            f"changes the light left at the foot from {falls[0]} to {falls[1]} of the brightest "
            "band"
        )
    if _has_drama(one) and _has_drama(other):
        parts.append(_moves(one, other, "drama_centre_m", "the middle of the drama", units))
        parts.append(_strength(one, other))
    elif _has_drama(one) or _has_drama(other):
        parts.append("takes the texture away" if _has_drama(one) else "brings the texture out")
    change = _change(first, second, units)
    return f"{change} {', '.join(parts[:-1])} and {parts[-1]}."


def brightness_sentence(first: Still, second: Still, surface: str = "main") -> str:
    """Which of two stills looks brighter from the camera, by how much, and why.

    The ratio of mean luminances is a product of three: what a flat wall would show, what the
    relief's slopes do to it square-on, and what the eye's place adds.

    Returns
    -------
    str
        Empty if no eye was among the settings of either.
    """
    one, other = _of(first.numbers, surface), _of(second.numbers, surface)
    keys = ("seen_cd_m2", "seen_flat_cd_m2", "seen_square_on_share", "seen_view_share")
    if not all(k in f and f[k].value > 0 for k in keys for f in (one, other)):
        return ""
    seen, light, slopes, view = (other[k].value / one[k].value for k in keys)
    if abs(seen - 1) < SAME:
        start = f"From the camera {second.label} looks as bright on average as {first.label}"
    elif seen >= 2:
        start = f"From the camera {second.label} looks {seen:.1f} times as bright as {first.label}"
    else:
        start = f"From the camera {second.label} looks {_by(seen)} than {first.label}"
    reasons = []
    if abs(light - 1) >= SAME:
        reasons.append(f"the part in view gets {_by(light, 'more', 'less')} light")
    if abs(slopes - 1) >= SAME:
        reasons.append(f"the relief's slopes keep {_by(slopes, 'more', 'less')} of it")
    if abs(view - 1) >= SAME:
        side = "lit" if view > 1 else "dark"
        reasons.append(f"the eye sees more {side} sides of the relief ({_by(view)})")
    return f"{start}: {', '.join(reasons)}." if reasons else f"{start}."


def is_level(surface: str) -> bool:
    """Whether a surface is said by distances from a wall, not by heights up it."""
    return surface == "floor" or surface.startswith("ceiling")


def _noun(surface: str) -> str:
    if surface.startswith("ceiling"):
        return "ceiling"
    return surface if surface == "floor" else "wall"


def _across(numbers: Sequence[Number], plan: RunPlan | None) -> Mapping[str, Number]:
    """What was measured across the ceiling in a run's section, by the last part of its key."""
    if plan is None:
        return {}
    prefix = f"run.{plan.tag}.ceiling."
    return {n.key[len(prefix) :]: n for n in numbers if n.key.startswith(prefix)}


def _level_sentence(
    numbers: Sequence[Number],
    found: Mapping[str, Number],
    plan: RunPlan | None,
    units: Units,
    surface: str,
) -> str:
    average, most = (
        say_illuminance(found[k].value, units.illuminance) for k in ("average_lx", "max_lx")
    )
    text = f"the {_noun(surface)} gets {average} on average"
    across = _across(numbers, plan) if surface.startswith("ceiling") else {}
    if plan is None or "peak_from_wall_m" not in across:
        return f"{text} and {most} at most"
    peak = say_illuminance(across["peak_lx"].value, units.illuminance)
    at = _height(across["peak_from_wall_m"].value, units)
    text += f", is brightest {at} from the {plan.beside} wall with {peak}"
    ratio = across["max_to_min"].value
    if math.isfinite(ratio) and ratio <= LARGEST_RATIO:
        times = say_ratio(ratio).removesuffix(":1")
        if times == "1.0":
            text += ", and is even"
        else:
            text += f", where it gets {times} times the light of its darkest part across"
    half = across["half_m"].value
    if math.isfinite(half):
        text += f"; the run's own light has fallen to half {_height(half, units)} from it"
    else:
        text += "; the run's own light is nowhere down to half of its peak"
    first, second, share = (
        across[key].value if key in across else math.nan
        for key in ("half_first_m", "second_m", "second_over_peak")
    )
    return text + second_words(first, half, second, share, lambda v: _height(v, units))


def _level_change(first: Still, second: Still, units: Units, surface: str) -> str:
    """What changes across a ceiling or on a floor: its average, its brightest place, evenness."""
    averages = [_of(s.numbers, surface)["average_lx"].value for s in (first, second)]
    if averages[0] > 0 and abs(averages[1] / averages[0] - 1) >= SAME:
        said = [say_illuminance(a, units.illuminance) for a in averages]
        word = "raises" if averages[1] > averages[0] else "lowers"
        parts = [f"{word} the {_noun(surface)}'s average from {said[0]} to {said[1]}"]
    else:
        parts = [f"leaves the {_noun(surface)}'s average as it is"]
    both = [_across(s.numbers, s.plan) for s in (first, second)]
    if surface.startswith("ceiling") and all("peak_from_wall_m" in b for b in both):
        places = [_height(b["peak_from_wall_m"].value, units) for b in both]
        wall = first.plan.beside if first.plan is not None else ""
        if places[0] != places[1]:
            parts.append(
                f"moves its brightest place from {places[0]} to {places[1]} from the {wall} wall"
            )
        ratios = [b["max_to_min"].value for b in both]
        said = [say_ratio(r) for r in ratios]
        if all(math.isfinite(r) for r in ratios) and said[0] != said[1]:
            word = "evens it out" if ratios[1] < ratios[0] else "makes it less even,"
            parts.append(f"{word} from {said[0]} to {said[1]}")
    change = _change(first, second, units)
    joined = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
    return f"{change} {joined}."


def _of(numbers: Sequence[Number], surface: str) -> Mapping[str, Number]:
    prefix = f"{surface}."
    found = {k[len(prefix) :]: n for k, n in by_key(numbers).items() if k.startswith(prefix)}
    for key in ("average_lx", "max_to_min", "bright_band_at_m", "bright_band_lx", "foot_lx"):
        if key not in found:
            raise ValueError(f"no number {prefix}{key}")
    return found


def _placed(plan: RunPlan | None, units: Units) -> str:
    if plan is None:
        return ""
    setback = say_length(plan.setback_m, units.length)
    # a cove's setback counts from the wall that it runs along, not from what it lights
    off = plan.lights if plan.kind in ("wall", "upright") else plan.beside
    if plan.against:
        return f"with the light set against the {_noun(off)} ({setback}), "
    return f"with the light {setback} off the {_noun(off)}, "


def _height(height_m: float, units: Units) -> str:
    """Height to 10 mm or an inch: bands of 50 mm say no more than that."""
    step_m = 0.0254 if units.length in ("ft", "in") else 0.01
    return say_length(round(height_m / step_m) * step_m, units.length)


def _brightest(found: Mapping[str, Number], units: Units) -> str:
    at = _height(found["bright_band_at_m"].value, units)
    return f"is brightest {at} up"


def _evenness(found: Mapping[str, Number], units: Units) -> str:
    ratio = found["max_to_min"].value
    if ratio <= LARGEST_RATIO:
        low, high = (_height(found[f"max_to_min_{end}_m"].value, units) for end in ("low", "high"))
        if say_ratio(ratio) == "1.0:1":
            return f"gets the same light everywhere from {low} to {high}"
        times = say_ratio(ratio).removesuffix(":1")
        return f"from {low} to {high} its lightest part gets {times} times the light of its darkest"
    foot = say_illuminance(found["foot_lx"].value, units.illuminance)
    top, bright = found["top_lx"].value, found["bright_band_lx"].value
    if top >= 0.5 * bright:
        return (
            f"falls from {say_illuminance(top, units.illuminance)} at the top to {foot} at the foot"
        )
    return (
        f"falls from {say_illuminance(bright, units.illuminance)} there to {foot} at the foot and "
        f"{say_illuminance(top, units.illuminance)} at the top"
    )


def _has_drama(found: Mapping[str, Number]) -> bool:
    texture = found.get("texture_over_mean")
    return texture is not None and texture.value >= HARDLY and "drama_zone_low_m" in found


def _drama(found: Mapping[str, Number], units: Units) -> str:
    if "texture_over_mean" not in found:
        return ""
    if not _has_drama(found):
        return "its texture hardly shows"
    if found["drama_share"].value >= NEARLY_ALL:
        return "light and shade show on its texture over nearly its whole height"
    zones = []
    for tag in ["drama_zone"] + [f"drama_zone_{i}" for i in range(2, 100)]:
        if f"{tag}_low_m" not in found:
            break
        low, high = (_height(found[f"{tag}_{e}_m"].value, units) for e in ("low", "high"))
        zones.append(f"from {low} to {high}")
    listed = zones[0] if len(zones) == 1 else f"{', '.join(zones[:-1])} and {zones[-1]}"
    return f"light and shade on its texture are strongest {listed} up, and the rest looks flatter"


def _moves(
    one: Mapping[str, Number], other: Mapping[str, Number], key: str, what: str, units: Units
) -> str:
    heights = [f[key].value for f in (one, other)]
    said = [_height(h, units) for h in heights]
    if said[0] == said[1]:
        return f"leaves {what} at {said[0]} up"
    word = "down" if heights[1] < heights[0] else "up"
    return f"moves {what} {word} from {said[0]} to {said[1]}"


def _share_at_foot(found: Mapping[str, Number]) -> str:
    # of the brightest band, not of the top: the top may lie above the run, in the dark
    bright, foot = found["bright_band_lx"].value, found["foot_lx"].value
    if not bright > 0:
        return "nothing"
    share = 100 * foot / bright
    return f"{share:.0f} %" if share >= 9.95 else f"{share:.1f} %"


def _strength(one: Mapping[str, Number], other: Mapping[str, Number]) -> str:
    ratio = other["texture_cd_m2"].value / one["texture_cd_m2"].value
    if abs(ratio - 1) < SAME:
        return "leaves its strength as it is"
    word = "raises" if ratio > 1 else "softens"
    return f"{word} its strength to {_times(ratio)} what it was"


def _times(ratio: float) -> str:
    if ratio >= 2:
        return f"{ratio:.1f} times"
    return f"{100 * ratio:.0f} % of" if ratio >= 0.0995 else f"{100 * ratio:.1f} % of"


def _by(ratio: float, more: str = "brighter", less: str = "darker") -> str:
    if ratio >= 2:
        return f"{ratio:.1f} times as much" if more == "more" else f"{ratio:.1f} times"
    return f"{abs(100 * (ratio - 1)):.0f} % {more if ratio > 1 else less}"


def _change(first: Still, second: Still, units: Units) -> str:
    a, b = first.plan, second.plan
    if a is not None and b is not None:
        said = [say_length(p.setback_m, units.length) for p in (a, b)]
        if said[0] != said[1]:
            way = "out" if b.setback_m > a.setback_m else "in"
            return f"Moving the light {way} from {said[0]} to {said[1]} off the wall"
    return f"Going from {first.label} to {second.label}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
