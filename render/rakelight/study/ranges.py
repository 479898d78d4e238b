"""Values to sweep, from ``start:stop:step`` or a list, in the user's units.

``against`` may stand for the start: it is the least setback that clears, which only the built
scene knows; the whole steps above it follow.
"""

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rakelight.errors import InputError
from rakelight.study.knobs import AGAINST, Knob, Value
from rakelight.units import LengthUnit, parse_angle, parse_length, say_angle, say_length

MOST_STEPS = 240
#: A step that misses the stop by less than this share of a step still counts as reaching it.
_HAIR = 1e-6


@dataclass(frozen=True, slots=True)
class Range:
    """What the user asked for: either a list, or start, stop and step.

    Parameters
    ----------
    knob : Knob
        What is swept.
    text : str
        As typed, for messages.
    unit : {"m", "mm", "ft", "in"}
        Unit to print its lengths in: as typed, else the scene's.
    listed : tuple of float or str
        The values of a list; empty for a range.
    start, stop, step : float or ``against``
        Of a range. [SI]
    """

    knob: Knob
    text: str
    unit: LengthUnit
    listed: tuple[Value, ...] = ()
    start: Value = math.nan
    stop: float = math.nan
    step: float = math.nan

    @property
    def needs_least(self) -> bool:
        """Whether `against` is among its values."""
        return self.start == AGAINST or AGAINST in self.listed


def parse_range(knob: Knob, text: str, unit: LengthUnit) -> Range:
    """Read a range or a list.

    Parameters
    ----------
    knob : Knob
        What is swept.
    text : str
        ``start:stop:step``, ``a,b,c``, or names in a list.
    unit : {"m", "mm", "ft", "in"}
        The scene's, for bare numbers.

    Raises
    ------
    InputError
        In one line, for whatever is empty, reversed, in a wrong unit, without a step, or too
        long.
    """

    def fault(says: str) -> InputError:
        return InputError(f'--{knob.key} "{text}": {says}')

    right = f"Right is, for example, {knob.takes}."
    if not text.strip():
        raise fault(f"is empty. {right}")
    typed = _unit_in(text) or unit
    if knob.kind == "name":
        names = [part.strip() for part in text.split(",")]
        if not all(names):
            raise fault(f"has an empty name. {right}")
        if len(set(names)) < len(names):
            raise fault("names one twice.")
        if len(names) < 2:
            raise fault("is one name; a sweep takes two or more, with commas between.")
        return Range(knob, text, unit, listed=tuple(names))
    parts = text.split(":")
    if len(parts) == 1:
        values = [_value(knob, part, unit, fault, against=True) for part in text.split(",")]
        if len(values) < 2:
            raise fault(f"is one value; a sweep takes start:stop:step, or several. {right}")
        numbers = [value for value in values if not isinstance(value, str)]
        if len(set(values)) < len(values):
            raise fault("names one value twice.")
        if numbers != sorted(numbers) or AGAINST in values[1:]:
            raise fault("does not go up. Put the values in order, from the least.")
        return Range(knob, text, typed, listed=tuple(values))
    if len(parts) != 3:
        raise fault(f"is not start:stop:step. {right}")
    start = _value(knob, parts[0], unit, fault, against=True)
    stop, step = (_value(knob, part, unit, fault) for part in parts[1:])
    assert not isinstance(stop, str)
    assert not isinstance(step, str)
    if not step > 0:
        raise fault(f"the step must be above 0. {right}")
    if not isinstance(start, str):
        if stop < start:
            raise fault(
                f"is reversed: it goes from {say(knob, start, typed)} down to "
                f"{say(knob, stop, typed)}. Put the lesser first."
            )
        if stop - start < step * (1 - _HAIR):
            raise fault("holds one value: the step is longer than from start to stop.")
    count = (stop - (0.0 if isinstance(start, str) else start)) / step
    if count > MOST_STEPS:
        raise fault(f"makes {count:.0f} steps; {MOST_STEPS} at most. Take a longer step.")
    return Range(knob, text, typed, start=start, stop=stop, step=step)


def expand(wanted: Range, least_m: float = math.nan) -> tuple[Value, ...]:
    """Values of a range, from the least.

    Parameters
    ----------
    wanted : Range
        What was asked for.
    least_m : float
        Least setback that clears, if `wanted.needs_least`. [m]

    Raises
    ------
    InputError
        If nothing lies between the least setback and the stop.
    """
    if wanted.listed:
        return wanted.listed
    if isinstance(wanted.start, str):
        first = math.floor(least_m / wanted.step * (1 + _HAIR)) + 1
        last = math.floor(wanted.stop / wanted.step + _HAIR)
        values = tuple(k * wanted.step for k in range(first, last + 1))
        if not values:
            raise InputError(
                f'--{wanted.knob.key} "{wanted.text}": the least setback that clears is '
                f"{say_length(least_m, wanted.unit, rounding='up')}; there is nothing from there "
                "to the end of the range."
            )
        return (AGAINST, *values)
    count = math.floor((wanted.stop - wanted.start) / wanted.step + _HAIR)
    return tuple(wanted.start + k * wanted.step for k in range(count + 1))


def say(knob: Knob, value: Value, unit: LengthUnit) -> str:
    """One value in words: ``6 in``, ``12 deg``, ``40 %``, a name, ``against``."""
    if isinstance(value, str):
        return value
    if knob.kind == "length":
        return say_length(value, unit)
    return say_angle(value) if knob.kind == "angle" else f"{100 * value:.4g} %"


def labels(wanted: Range, values: Sequence[Value], least_m: float = math.nan) -> tuple[str, ...]:
    """One label a value, no two alike: finer than people read lengths only where they must be."""
    said = [say(wanted.knob, value, wanted.unit) for value in values]
    if len(set(said)) < len(said):
        per = {"m": 1.0, "mm": 0.001, "ft": 0.3048, "in": 0.0254}[wanted.unit]
        word: str = wanted.unit
        if wanted.knob.kind == "angle":
            per, word = math.pi / 180, "deg"
        said = [v if isinstance(v, str) else f"{v / per:.6g} {word}" for v in values]
    if AGAINST in values and math.isfinite(least_m):
        at = say_length(least_m, wanted.unit, rounding="up")
        said[list(values).index(AGAINST)] = f"against ({at})"
    return tuple(said)


def _value(
    knob: Knob,
    part: str,
    unit: LengthUnit,
    fault: Callable[[str], InputError],
    *,
    against: bool = False,
) -> Value:
    part = part.strip()
    if part == AGAINST:
        if against and knob.key == "setback":
            return AGAINST
        raise fault('"against" can only be where a setback starts.')
    if not part:
        raise fault(f"a value is missing. Right is, for example, {knob.takes}.")
    try:
        value = _read(knob, part, unit)
    except ValueError as error:
        raise fault(f"{error}.") from None
    if not knob.least <= value <= knob.most:
        low, high = (say(knob, v, unit) for v in (knob.least, knob.most))
        must = f"{low} or more" if math.isinf(knob.most) else f"from {low} to {high}"
        raise fault(f"{part} is out of range; it must be {must}.")
    return value


def _read(knob: Knob, part: str, unit: LengthUnit) -> float:
    if knob.kind == "length":
        return parse_length(part, unit)
    if knob.kind == "angle":
        return parse_angle(part)
    text = part.removesuffix("%").strip()
    try:
        share = float(text)
    except ValueError:
        share = math.nan
    if not math.isfinite(share):
        raise ValueError(f'"{part}" is not a share such as 0.4 or "40 %"')
    return share / 100 if part.endswith("%") else share


def _unit_in(text: str) -> LengthUnit | None:
    """The last unit of length typed, which the reader then thinks in."""
    words = re.findall(r"[a-z]+", text.lower().replace(AGAINST, ""))
    known: dict[str, LengthUnit] = {
        "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
        "mm": "mm", "cm": "mm", "in": "in", "inch": "in", "inches": "in",
        "ft": "ft", "feet": "ft", "foot": "ft",
    }  # fmt: skip
    found = [known[word] for word in words if word in known]
    return found[-1] if found else None
