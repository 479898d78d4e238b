"""A suggestion in words, tables and files: the ranking, the tolerances, what binds."""

import json
import math
from collections.abc import Sequence
from typing import Any

from rakelight.scene.number import Number
from rakelight.study.outcomes import Outcome
from rakelight.study.search import Found
from rakelight.study.suggest import Suggestion
from rakelight.study.tolerance import Band, Tolerance, Tolerances, in_order
from rakelight.study.wishes import wish_in_words
from rakelight.tell.cautions import CAUTIONS
from rakelight.tell.shown import Units, say
from rakelight.units import say_angle, say_illuminance, say_length

#: Kinds of light that the search leaves out, said with every result.
SEARCHED = (
    "Searched on direct light and a coarser mesh; light from surface to surface is left out of "
    "the search."
)
_WHAT = {
    "setback": "setback", "tilt": "tilt", "lean": "wall leaning (top against foot)",
    "bow": "wall bulging (middle against ends)",
}  # fmt: skip
_SIDES = {
    "setback": ("nearer", "farther"), "tilt": ("away", "toward"),
    "lean": ("back", "in"), "bow": ("hollow", "out"),
}  # fmt: skip


def rows_of(found: Found, units: Units) -> list[str]:
    """Cells of one line of the ranked table, without its place."""
    plan, candidate = found.plan, found.candidate
    setback = say_length(plan.setback_m, units.length) + (" (against)" if found.against else "")
    cells = [
        plan.file,
        setback,
        say_length(plan.clear_gap_m, units.length),
        say_angle(plan.tilt_rad),
        say_angle(plan.beam_aim_rad),
    ]
    if candidate.below_m is not None:
        cells.insert(1, say_length(candidate.below_m, units.length))
    cells += [say(number, units) for number in found.outcome.numbers]
    return [*cells, "yes" if found.outcome.met else "no"]


def heads_of(found: Found) -> list[str]:
    """Headings over `rows_of`."""
    heads = ["file", "setback", "clear gap", "tilt", "beam aim"]
    if found.candidate.below_m is not None:
        heads.insert(1, "below ceiling")
    return [*heads, *(number.says for number in found.outcome.numbers), "met"]


def table_text(rows: Sequence[Sequence[str]]) -> list[str]:
    """Columns set flush left, headings first."""
    wide = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return [
        "  ".join(cell.ljust(w) for cell, w in zip(row, wide, strict=True)).rstrip() for row in rows
    ]


def suggestion_lines(
    suggestion: Suggestion,
    sure: Outcome,
    tolerated: Sequence[Tolerances],
    units: Units,
    *,
    dim: float,
    state: str,
) -> list[str]:
    """All that is printed.

    Parameters
    ----------
    suggestion : Suggestion
        The search's result.
    sure : Outcome
        The winner at the scene's own quality.
    tolerated : sequence of Tolerances
        Of the first of the ranked, in order.
    units : Units
        The reader's.
    dim : float
        The run's share of light output.
    state : str
        Initial or maintained.
    """
    wish = suggestion.wish
    lines = [f"Wish: {wish_in_words(wish, units.length, units.illuminance)}.", ""]
    head = ["", *heads_of(suggestion.best)]
    body = [[str(k), *rows_of(f, units)] for k, f in enumerate(suggestion.ranked, 1)]
    lines += table_text([head, *body])
    said = ", ".join(f"{n.says} {say(n, units)}" for n in sure.numbers)
    lines += ["", f"No. 1 at the scene's own quality: {said}."]
    if not suggestion.best.outcome.met:
        lines += ["", "The wish is not met within the bounds."]
        lines += limit_lines(suggestion, units, dim)
    elif not sure.met:
        lines.append("At that quality it misses the wish by a little: look at the still.")
    for place, one in enumerate(tolerated, 1):
        lines += ["", f"Tolerance of no. {place}, {band_in_words(one.band, units)}:"]
        lines += tolerance_lines(one, units)
    lines += ["", f"{suggestion.tried} settings lit. Illuminance is {state}. {SEARCHED}", *CAUTIONS]
    return lines


def band_in_words(band: Band, units: Units) -> str:
    """Say what the outcome may become."""
    names = {
        "drama_centre_m": "drama centre", "band_share": "share of texture in the band",
        "max_to_min": "max:min", "bright_band_at_m": "brightest band", "throw_m": "throw",
        "average_lx": "average", "corner_miss_m": "cut-off line",
        "texture_over_mean": "texture over mean", "band_level": "least texture in the band",
    }  # fmt: skip
    amount = f"{band.amount:.0%}" if band.by_share else say_length(band.amount, units.length)
    sign = "up to " if band.one_sided else "within "
    worse = " more" if band.one_sided else ""
    also = f" and {names[band.keeps]} at least {band.least_share:.0%} of it" if band.keeps else ""
    return f"{names[band.key]} {sign}{amount}{worse}{also}"


def tolerance_lines(tolerated: Tolerances, units: Units) -> list[str]:
    """One line for each thing that may be off, the tightest first."""
    rows = [_tolerance_row(item, units) for item in in_order(tolerated.items)]
    lines = [f"  {line}" for line in table_text(rows)]
    if tolerated.half_click_rad > 0:
        half = say_angle(tolerated.half_click_rad)
        if tolerated.half_click_left > 0:
            lines.append(f"  Half a click of the hardware ({half}) either way stays in the band.")
        else:
            lines.append(
                f"  Half a click of the hardware ({half}) already leaves the band: it must sit in "
                "the click, and the run must hang level."
            )
    return lines


def _tolerance_row(item: Tolerance, units: Units) -> list[str]:
    back, forth = _SIDES[item.what]
    cells = [_WHAT[item.what]]
    for word, size, ends in (
        (back, item.minus, item.minus_ends),
        (forth, item.plus, item.plus_ends),
    ):
        said = say_angle(size) if item.unit == "rad" else say_length(size, units.length)
        tail = {"leaves": "", "holds": " or more", "touches": ", then it touches the relief"}
        cells.append(f"{said} {word}{tail[ends]}")
    return cells


def limit_lines(suggestion: Suggestion, units: Units, dim: float) -> list[str]:
    """Say which bound or limit keeps the best setting from the wish."""
    best, bounds, wish = suggestion.best, suggestion.bounds, suggestion.wish
    out = []
    for limit in suggestion.limits:
        word, _, what = limit.partition(" ")
        end = 0 if word == "least" else 1
        if limit == "against":
            least = say_length(best.plan.least_setback_m, units.length, rounding="up")
            out.append(f"The relief binds: {least} is the least setback that clears it.")
        elif limit == "click":
            click = say_angle(best.plan.click_rad)
            out.append(
                f"The hardware's clicks bind: between two of them ({click}) it would be met."
            )
        elif limit == "output":
            average = best.outcome.value("average_lx")
            text = (
                f"The light output binds: {say_illuminance(average, units.illuminance)} of "
                f"{say_illuminance(wish.lx, units.illuminance)} at dim {dim:.0%}"
            )
            if dim < 1 and average / dim >= wish.lx:
                text += f"; dim {min(1.0, dim * wish.lx / average):.0%} would give it"
            elif dim < 1:
                text += f", {say_illuminance(average / dim, units.illuminance)} at full output"
            out.append(f"{text}.")
        elif what == "tilt":
            said = say_angle(best.plan.tilt_rad)
            out.append(f"The {word} tilt, {said}, binds: beyond it the wish would come nearer.")
        else:
            span = bounds.setback_m if what == "setback" else bounds.below_m
            name = "setback" if what == "setback" else "distance below the ceiling"
            at = say_length(span[end], units.length) if span else ""
            out.append(f"The {word} {name}, {at}, binds: beyond it the wish would come nearer.")
    if not out:
        out.append(
            "No bound binds: the best lies inside them. Another file, mounting or output is needed."
        )
    return out


def suggestion_json(
    suggestion: Suggestion, sure: Outcome, tolerated: Sequence[Tolerances]
) -> bytes:
    """Everything in SI with every digit."""
    document: dict[str, Any] = {
        "wish": suggestion.wish.text,
        "met": suggestion.best.outcome.met,
        "limits": list(suggestion.limits),
        "settings_lit": suggestion.tried,
        "ranked": [_found(found) for found in suggestion.ranked],
        "first_at_own_quality": {"met": sure.met, "numbers": _numbers(sure.numbers)},
        "tolerances": [_tolerances(one) for one in tolerated],
        "left_out": SEARCHED,
        "cautions": list(CAUTIONS),
    }
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode()


def _found(found: Found) -> dict[str, Any]:
    plan, c = found.plan, found.candidate
    return {
        "file": plan.file,
        "setback_m": plan.setback_m,
        "clear_gap_m": plan.clear_gap_m,
        "tilt_deg": math.degrees(plan.tilt_rad),
        "beam_aim_deg": math.degrees(plan.beam_aim_rad),
        "below_ceiling_m": c.below_m,
        "against": found.against,
        "met": found.outcome.met,
        "score": found.outcome.score,
        "numbers": _numbers(found.outcome.numbers),
    }


def _numbers(numbers: Sequence[Number]) -> dict[str, Any]:
    return {n.key: {"value": _finite(n.value), "unit": n.unit} for n in numbers}


def _tolerances(one: Tolerances) -> dict[str, Any]:
    return {
        "band": {
            "number": one.band.key,
            "amount": one.band.amount,
            "by_share": one.band.by_share,
            "keeps": one.band.keeps or None,
            "least_share": one.band.least_share,
        },
        "half_click_deg": math.degrees(one.half_click_rad),
        "half_click_stays": one.half_click_left > 0,
        "items": [
            {
                "what": item.what,
                "minus_mm_or_deg": _user(item, item.minus),
                "plus_mm_or_deg": _user(item, item.plus),
                "minus_ends": item.minus_ends,
                "plus_ends": item.plus_ends,
            }
            for item in one.items
        ],
        "map": {
            "setback_off_m": one.setback_off_m.tolist(),
            "tilt_off_deg": [math.degrees(t) for t in one.tilt_off_rad.tolist()],
            "value": [[_finite(v) for v in row] for row in one.value.tolist()],
            "share_of_band_left": [[_finite(v) for v in row] for row in one.left.tolist()],
        },
    }


def _user(item: Tolerance, size: float) -> float:
    return math.degrees(size) if item.unit == "rad" else 1000 * size


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
