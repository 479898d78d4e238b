"""Text to SI and back: lengths, angles and illuminance as people write and read them.

Factors are exact: 1 in = 0.0254 m and 1 ft = 0.3048 m (international yard and pound
agreement of 1959); 1 fc = 1 lm/ft2 = 1 / 0.3048^2 lx.
"""

import math
import re
from fractions import Fraction
from typing import Literal

LengthUnit = Literal["m", "mm", "ft", "in"]
IlluminanceUnit = Literal["lx", "fc"]
AngleUnit = Literal["deg", "rad"]

LX_PER_FC = 1 / 0.3048**2

_LENGTHS_M = {
    "m": Fraction(1),
    "cm": Fraction(1, 100),
    "mm": Fraction(1, 1000),
    "in": Fraction(254, 10000),
    "ft": Fraction(3048, 10000),
}
_SPELLINGS = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "inch": "in", "inches": "in", "foot": "ft", "feet": "ft",
    "degree": "deg", "degrees": "deg", "°": "deg",
    "lux": "lx", "footcandle": "fc", "footcandles": "fc",
}  # fmt: skip

# 12, 12.5, .5, 1e-3, 1/8, 2 1/8; the counts are bounded so that no input can be slow
_DECIMAL = r"(?:\d{1,20}\.?\d{0,20}|\.\d{1,20})(?:e[+-]?\d{1,3})?"
_NUMBER = rf"(?:\d{{1,12}}\s+\d{{1,4}}/\d{{1,4}}|\d{{1,4}}/\d{{1,4}}|{_DECIMAL})"
_WORD = r"[a-z°]+"
_SINGLE = re.compile(rf"([+-]?)\s*({_NUMBER})\s*({_WORD})?", re.IGNORECASE)
_FEET_INCHES = re.compile(
    rf"([+-]?)\s*({_NUMBER})\s*(?:ft|feet|foot)\s*({_NUMBER})\s*(?:in|inch|inches)", re.IGNORECASE
)


def parse_length(value: object, unit: LengthUnit = "m") -> float:
    """Read a length.

    Parameters
    ----------
    value : number or str
        ``"6 in"``, ``"9 ft 6 in"``, ``"2 1/8 in"``, ``"150 mm"``, ``"0.15 m"``, or a bare
        number in `unit`.
    unit : {"m", "mm", "ft", "in"}
        Unit of a bare number.

    Returns
    -------
    float
        Length, may be negative. [m]

    Raises
    ------
    ValueError
        If `value` is not a finite length.
    """
    hint = 'a length such as 0.15, "150 mm", "6 in" or "9 ft 6 in"'
    if isinstance(value, str):
        match = _FEET_INCHES.fullmatch(value.strip())
        if match:
            feet, inches = _exact(match[2], value, hint), _exact(match[3], value, hint)
            total = feet * _LENGTHS_M["ft"] + inches * _LENGTHS_M["in"]
            return float(-total if match[1] == "-" else total)
    return float(_exact_quantity(value, unit, _LENGTHS_M, hint))


def parse_angle(value: object, unit: AngleUnit = "deg") -> float:
    """Read an angle: ``"12 deg"``, ``"0.2 rad"``, or a bare number in `unit`.

    Returns
    -------
    float
        Angle. [rad]

    Raises
    ------
    ValueError
        If `value` is not a finite angle.
    """
    hint = 'an angle such as 12, "12 deg" or "0.2 rad"'
    number, found = _quantity(value, unit, ("deg", "rad"), hint)
    return math.radians(float(number)) if found == "deg" else float(number)


def parse_illuminance(value: object, unit: IlluminanceUnit = "lx") -> float:
    """Read an illuminance: ``"10 lx"``, ``"1 fc"``, or a bare number in `unit`.

    Returns
    -------
    float
        Illuminance. [lx]

    Raises
    ------
    ValueError
        If `value` is not a finite illuminance.
    """
    factors = {"lx": Fraction(1), "fc": 1 / Fraction(3048, 10000) ** 2}
    return float(_exact_quantity(value, unit, factors, 'an illuminance such as "10 lx" or "1 fc"'))


def parse_kelvin(value: object) -> float:
    """Read a correlated colour temperature: ``"3000 K"`` or 3000. [K]

    Raises
    ------
    ValueError
        If `value` is not a finite temperature.
    """
    number, _ = _quantity(value, "k", ("k",), 'a colour temperature such as "3000 K"')
    return float(number)


def say_length(
    length_m: float, unit: LengthUnit, *, rounding: Literal["nearest", "up"] = "nearest"
) -> str:
    """Write a length as people read it.

    Whole millimetres; metres with two decimals, or three where they matter; feet and inches
    to 1/8 in.

    Parameters
    ----------
    length_m : float
        [m]
    unit : {"m", "mm", "ft", "in"}
        Unit to write in.
    rounding : {"nearest", "up"}
        ``up`` for a least value, so that what is printed is allowed.
    """
    if not math.isfinite(length_m):
        return "unknown"
    step_m = 0.0254 / 8 if unit in ("ft", "in") else 0.001
    steps = length_m / step_m
    # up: a hair of tolerance, or 0.06 m would be said as 61 mm
    whole = math.ceil(steps - 1e-6) if rounding == "up" else math.floor(steps + 0.5)
    if unit == "mm":
        return f"{whole} mm"
    if unit == "m":
        text = f"{whole / 1000:.3f}"
        return f"{text[:-1] if text.endswith('0') else text} m"
    sign, eighths = ("-" if whole < 0 else ""), abs(whole)
    feet = eighths // 96 if unit == "ft" else 0
    inches, part = divmod(eighths - 96 * feet, 8)
    fraction = f"{Fraction(part, 8)}" if part else ""
    words = f"{inches} {fraction}".strip() if inches or not fraction else fraction
    if feet and not (inches or part):
        return f"{sign}{feet} ft"
    return f"{sign}{feet} ft {words} in" if feet else f"{sign}{words} in"


def say_illuminance(illuminance_lx: float, unit: IlluminanceUnit) -> str:
    """Write an illuminance: whole from 10 up, one decimal below.

    Parameters
    ----------
    illuminance_lx : float
        [lx]
    unit : {"lx", "fc"}
        Unit to write in.
    """
    return f"{say_number(illuminance_lx / (LX_PER_FC if unit == 'fc' else 1.0))} {unit}"


def say_number(value: float) -> str:
    """Write a reading without its unit: whole from 10 up, one decimal below."""
    if not math.isfinite(value):
        return "unknown"
    return f"{value:.0f}" if abs(value) >= 9.95 else f"{value:.1f}"


def say_ratio(ratio: float) -> str:
    """Write a ratio to one: one decimal, ``"2.8:1"``."""
    if math.isnan(ratio):
        return "unknown"
    return f"{ratio:.1f}:1" if math.isfinite(ratio) else "no limit"


def say_angle(angle_rad: float) -> str:
    """Write an angle in degrees with one decimal where it is not whole."""
    if not math.isfinite(angle_rad):
        return "unknown"
    degrees = round(math.degrees(angle_rad), 1) + 0.0  # + 0.0 turns -0.0 into 0.0
    return f"{degrees:.0f} deg" if degrees == int(degrees) else f"{degrees:.1f} deg"


def _exact_quantity(value: object, unit: str, factors: dict[str, Fraction], hint: str) -> Fraction:
    number, found = _quantity(value, unit, tuple(factors), hint)
    return number * factors[found]


def _quantity(value: object, unit: str, units: tuple[str, ...], hint: str) -> tuple[Fraction, str]:
    """Split into an exact number and its unit; every fault is a ValueError naming `hint`."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError(f"{_shown(value)} is not {hint}")
    if not isinstance(value, str):
        typed = _as_float(value)
        if not math.isfinite(typed):
            raise ValueError(f"{_shown(value)} is not {hint}")
        # the shortest decimal that a person can have typed, so that 0.1 is a tenth exactly
        return Fraction(repr(typed)), unit
    match = _SINGLE.fullmatch(value.strip())
    if not match:
        raise ValueError(f"{_shown(value)} is not {hint}")
    word = (match[3] or unit).lower()
    found = _SPELLINGS.get(word, word)
    if found not in units:
        raise ValueError(f"{_shown(value)} is not {hint}")
    number = _exact(match[2], value, hint)
    return (-number if match[1] == "-" else number), found


def _exact(text: str, value: object, hint: str) -> Fraction:
    total = Fraction(0)
    try:
        for part in text.split():
            total += Fraction(part)
    except (ValueError, ZeroDivisionError):
        raise ValueError(f"{_shown(value)} is not {hint}") from None
    if not math.isfinite(_as_float(total)):
        raise ValueError(f"{_shown(value)} is not {hint}")
    return total


def _as_float(value: Fraction | float) -> float:
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _shown(value: object) -> str:
    if isinstance(value, int) and abs(value) >= 10**50:
        return "a number of more than 50 digits"  # str() refuses to write the longest
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:56]} ..."
