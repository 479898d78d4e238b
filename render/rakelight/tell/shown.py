"""Numbers in the user's units, rounded as people read them."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.units import (
    LX_PER_FC,
    IlluminanceUnit,
    LengthUnit,
    say_illuminance,
    say_length,
    say_number,
    say_ratio,
)

_FT_M = 0.3048


@dataclass(frozen=True, slots=True)
class Units:
    """Units that a reader wants.

    Parameters
    ----------
    length : {"m", "mm", "ft", "in"}
    illuminance : {"lx", "fc"}
    """

    length: LengthUnit = "m"
    illuminance: IlluminanceUnit = "lx"


def by_key(numbers: Iterable[Number]) -> Mapping[str, Number]:
    """Numbers by their keys.

    Raises
    ------
    ValueError
        If a key comes twice.
    """
    found: dict[str, Number] = {}
    for number in numbers:
        if number.key in found:
            raise ValueError(f"two numbers are called {number.key!r}")
        found[number.key] = number
    return found


def say(number: Number, units: Units) -> str:
    """One number with its unit, rounded for people; JSON keeps every digit instead.

    Lengths in whole mm or feet and inches to 1/8, light whole from 10 up and one decimal
    below, ratios to one with one decimal, shares in percent.
    """
    value, unit = number.value, number.unit
    if unit == "m":
        return say_length(value, units.length)
    if unit == "lx":
        return say_illuminance(value, units.illuminance)
    if unit == "1":
        return _say_plain(number.key, value)
    if not math.isfinite(value):
        return "unknown"
    feet, candles = units.length in ("ft", "in"), units.illuminance == "fc"
    if unit == "lx/m":
        per = value / LX_PER_FC if candles else value
        per, unit = (per * _FT_M, "ft") if feet else (per, "m")
        return f"{say_number(per)} {units.illuminance}/{unit}"
    if feet and unit in ("W/m", "lm/m"):
        return f"{say_number(value * _FT_M)} {unit[:-1]}ft"
    if feet and unit == "W/m2":
        return f"{value * _FT_M**2:.2f} W/ft2"
    if feet and unit == "m2":
        return f"{value / _FT_M**2:.1f} ft2"
    if unit == "m2":
        return f"{value:.2f} m2"
    return f"{say_number(value)} {unit}"


def say_percent(share: float) -> str:
    """Share in percent: whole from 10 up, one decimal below."""
    return f"{say_number(100 * share)} %" if math.isfinite(share) else "unknown"


def _say_plain(key: str, value: float) -> str:
    last = key.rsplit(".", 1)[-1]
    if last in ("max_to_min", "step_ratio"):
        return say_ratio(value)
    if not math.isfinite(value):
        return "unknown"
    if last.startswith("points_"):
        return f"{value:.0f}"
    if last in ("misses_light", "seen", "hides", "clears", "possible"):
        return "yes" if value else "no"
    if last in ("uniformity", "contrast_max", "texture_over_mean", "true_area_ratio"):
        return f"{value:.2f}"
    return say_percent(value)


def state_of(plans: Iterable[RunPlan]) -> str:
    """Whether the illuminance is initial or maintained, in a caption's words."""
    factors = sorted({plan.maintenance for plan in plans})
    if not factors or factors == [1.0]:
        return "initial"
    if len(factors) == 1:
        return f"maintained (maintenance factor {factors[0]:g})"
    return f"maintained (maintenance factors {factors[0]:g} to {factors[-1]:g}, by run)"
