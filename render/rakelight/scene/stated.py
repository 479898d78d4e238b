"""What a key of a scene may hold: user's text in, SI out, with words for the reference page.

Each kind is a type with a validator that knows the scene's declared units (they come in the
validation context) and a `Takes` that says in plain words what may be written.
"""

import itertools
import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ValidationInfo

from rakelight import units

LONGEST_M = 1000.0
LEAST_IMAGE_M = 0.005
LEAST_ROOM_M = 0.1


@dataclass(frozen=True, slots=True)
class Takes:
    """What a key takes, in the words of the reference page and of the fault messages."""

    words: str


def read_length(value: object, info: ValidationInfo) -> float:
    """Length in the scene's unit or with its own. [m]"""
    unit: units.LengthUnit = (info.context or {}).get("length", "m")
    length_m = units.parse_length(value, unit)
    if abs(length_m) > LONGEST_M:
        raise ValueError(f"longer than {LONGEST_M:.0f} m; a bare number is in {unit} here")
    return length_m


def read_size(value: object, info: ValidationInfo) -> float:
    """Length above 0. [m]"""
    length_m = read_length(value, info)
    if not length_m > 0:
        raise ValueError("must be above 0")
    return length_m


def read_image_size(value: object, info: ValidationInfo) -> float:
    """Length of 5 mm or more: a smaller repeat is no relief but a slip of the unit. [m]"""
    length_m = read_length(value, info)
    if not length_m >= LEAST_IMAGE_M:
        raise ValueError("must be 5 mm or more")
    return length_m


def read_room_size(value: object, info: ValidationInfo) -> float:
    """Length of 100 mm or more. [m]"""
    length_m = read_length(value, info)
    if not length_m >= LEAST_ROOM_M:
        raise ValueError("must be 100 mm or more")
    return length_m


def read_distance(value: object, info: ValidationInfo) -> float:
    """Length of 0 or more. [m]"""
    length_m = read_length(value, info)
    if not length_m >= 0:
        raise ValueError("must be 0 or more")
    return length_m


def read_setback(value: object, info: ValidationInfo) -> float | str:
    """Length above 0, or ``against``. [m]"""
    if isinstance(value, str) and value.strip() == "against":
        return "against"
    try:
        return read_size(value, info)
    except ValueError as error:
        raise ValueError(f'{error}; or use "against"') from None


def read_backing(value: object, info: ValidationInfo) -> float | str:
    """Length of 0 or more, or the height image's ``black`` or ``white``. [m]"""
    if value in ("black", "white"):
        return str(value)
    try:
        return read_distance(value, info)
    except ValueError as error:
        raise ValueError(f'{error}; or use "black" or "white"') from None


def read_lx(value: object, info: ValidationInfo) -> float:
    """Illuminance of 0 or more in the scene's unit or with its own. [lx]"""
    unit: units.IlluminanceUnit = (info.context or {}).get("illuminance", "lx")
    lx = units.parse_illuminance(value, unit)
    if not lx >= 0:
        raise ValueError("must be 0 or more")
    return lx


SAID_DIRECTIONS = {
    "straight down": 0.0,
    "toward": math.pi / 2,
    "away": -math.pi / 2,
    "straight up": math.pi,
}
_DIRECTION = re.compile(r"(.+?)\s+(above horizontal|below horizontal|toward|away)")


def read_direction(value: object) -> float:
    """Angle from straight down, positive toward the lit wall. [rad]"""
    words = ""
    if isinstance(value, str) and value.strip() in SAID_DIRECTIONS:
        return SAID_DIRECTIONS[value.strip()]
    if isinstance(value, str) and (match := _DIRECTION.fullmatch(value.strip())):
        value, words = match[1], match[2]
    try:
        angle = units.parse_angle(value)
    except ValueError as error:
        raise ValueError(f'{error}, "10 deg away" or "15 deg above horizontal"') from None
    if words and angle < 0:
        raise ValueError(f'must be 0 or more before "{words}"')
    if words.endswith("horizontal"):
        angle = math.pi / 2 + (angle if words.startswith("above") else -angle)
    elif words == "away":
        angle = -angle
    if abs(angle) > math.pi + 1e-12:
        raise ValueError("must lie between -180 and 180 deg")
    return angle


def read_aim(value: object) -> float | str:
    """Direction, or ``base``. [rad]"""
    return "base" if isinstance(value, str) and value.strip() == "base" else read_direction(value)


def read_turn(value: object) -> float:
    """Angle of any size. [rad]"""
    return units.parse_angle(value)


def read_number(value: object) -> float:
    """Finite number; text, truth values and NaN are refused."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError("must be a number without quotes")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError("must be a finite number")
    return number


def read_above_zero(value: object) -> float:
    """Finite number above 0."""
    number = read_number(value)
    if not number > 0:
        raise ValueError("must be above 0")
    return number


def read_share(value: object) -> float:
    """Number from 0 to 1."""
    number = read_number(value)
    if not 0 <= number <= 1:
        raise ValueError("must lie between 0 and 1")
    return number


def read_count(value: object) -> int:
    """Whole number from 1 up."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise ValueError("must be a whole number, 1 or more")
    if value > 100_000:
        raise ValueError("must be at most 100000")
    return value


def read_truth(value: object) -> bool:
    """True or false, nothing that merely looks like it."""
    if not isinstance(value, bool):
        raise ValueError("must be true or false, without quotes")
    return value


def read_pixels(value: object) -> int:
    """Whole number of pixels, 16 to 20000."""
    count = read_count(value)
    if not 16 <= count <= 20_000:
        raise ValueError("must lie between 16 and 20000")
    return count


def read_samples(value: object) -> int:
    """Whole number from 1 to 8."""
    count = read_count(value)
    if count > 8:
        raise ValueError("must be at most 8")
    return count


def read_kelvin(value: object) -> float:
    """Correlated colour temperature, 1000 to 20000 K. [K]"""
    kelvin = units.parse_kelvin(value)
    if not 1000 <= kelvin <= 20000:
        raise ValueError("must lie between 1000 and 20000 K")
    return kelvin


def read_auto_or_kelvin(value: object) -> float | str:
    """``auto`` or a colour temperature. [K]"""
    return "auto" if value == "auto" else read_kelvin(value)


def read_auto_or_number(value: object) -> float | str:
    """``auto`` or a number."""
    if value == "auto":
        return "auto"
    try:
        return read_number(value)
    except ValueError as error:
        raise ValueError(f'{error}, or "auto"') from None


def read_upright_or_mm(value: object) -> float | str:
    """``upright`` or millimetres of shift."""
    if value == "upright":
        return "upright"
    try:
        return read_number(value)
    except ValueError as error:
        raise ValueError(f'{error} (millimetres), or "upright"') from None


def read_reflectance(value: object) -> tuple[float, float, float]:
    """Grey value, sRGB colour or three linear values, as linear Rec.709.

    References
    ----------
    .. [1] IEC 61966-2-1, the sRGB transfer function.
    """
    right = 'right is 0.5, "#c8b9a2" or [0.6, 0.5, 0.4]'
    if isinstance(value, str):
        if not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
            raise ValueError(f"is not a reflectance; {right}")
        codes = [int(value[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (
            c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in codes
        )
        return _below_one(red, green, blue, right)
    values = list(value) if isinstance(value, (list, tuple)) else [value] * 3
    if len(values) != 3:
        raise ValueError(f"must have three values, red, green and blue; {right}")
    try:
        red, green, blue = (read_share(v) for v in values)
    except ValueError as error:
        raise ValueError(f"{error}; {right}") from None
    return _below_one(red, green, blue, right)


def _below_one(red: float, green: float, blue: float, right: str) -> tuple[float, float, float]:
    if max(red, green, blue) >= 1:
        raise ValueError(f"must be below 1, or light would never die away; {right}")
    return red, green, blue


def read_point(value: object, info: ValidationInfo) -> tuple[float, float, float]:
    """Three lengths. [m]"""
    if not isinstance(value, (list, tuple)) or len(value) != 3:
        raise ValueError("must be three lengths, [x, y, z]")
    x, y, z = (read_length(v, info) for v in value)
    return x, y, z


def read_pair(value: object, info: ValidationInfo) -> tuple[float, float]:
    """Two lengths. [m]"""
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise ValueError("must be two lengths, [right, up]")
    u, v = (read_length(x, info) for x in value)
    return u, v


def read_spot(value: object, info: ValidationInfo) -> tuple[float, float]:
    """Two lengths on the plan. [m]"""
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise ValueError("must be two lengths, [x, y]")
    x, y = (read_length(v, info) for v in value)
    return x, y


def read_turn_range(value: object) -> tuple[float, float]:
    """Two angles. [rad]"""
    if not isinstance(value, (list, tuple)) or len(value) != 2:
        raise ValueError('must be two angles, ["-30 deg", "30 deg"]')
    low, high = (units.parse_angle(v) for v in value)
    return low, high


_NEIGHBOURS = ("main", "right", "opposite", "left")


def read_wall_names(value: object) -> tuple[str, ...]:
    """One wall, or several that follow one another round the room."""
    names = [str(v) for v in value] if isinstance(value, (list, tuple)) else [str(value)]
    right = 'right is one of "main", "right", "opposite", "left", or a list of neighbours'
    if not names or not all(name in _NEIGHBOURS for name in names):
        raise ValueError(f"is not a wall; {right}")
    if len(set(names)) != len(names):
        raise ValueError(f"names a wall twice; {right}")
    at = [_NEIGHBOURS.index(name) for name in names]
    if any((b - a) % 4 != 1 for a, b in itertools.pairwise(at)):
        back = [(b - a) % 4 for a, b in itertools.pairwise(at)]
        if any(step != 3 for step in back):
            raise ValueError(f"are not neighbours in order; {right}")
        names.reverse()
    return tuple(names)


Length = Annotated[float, BeforeValidator(read_length), Takes("length")]
Size = Annotated[float, BeforeValidator(read_size), Takes("length above 0")]
ImageSize = Annotated[float, BeforeValidator(read_image_size), Takes("length, 5 mm or more")]
RoomSize = Annotated[float, BeforeValidator(read_room_size), Takes("length, 100 mm or more")]
Distance = Annotated[float, BeforeValidator(read_distance), Takes("length, 0 or more")]
Setback = Annotated[
    float | Literal["against"],
    BeforeValidator(read_setback),
    Takes('length above 0, or `"against"`'),
]
Backing = Annotated[
    float | Literal["black", "white"],
    BeforeValidator(read_backing),
    Takes('length, 0 or more, or `"black"` or `"white"`'),
]
Lux = Annotated[float, BeforeValidator(read_lx), Takes("illuminance, 0 or more")]
Direction = Annotated[float, BeforeValidator(read_direction), Takes("direction")]
Aim = Annotated[float | Literal["base"], BeforeValidator(read_aim), Takes('direction, or `"base"`')]
Turn = Annotated[float, BeforeValidator(read_turn), Takes("angle")]
Real = Annotated[float, BeforeValidator(read_number), Takes("number")]
AboveZero = Annotated[float, BeforeValidator(read_above_zero), Takes("number above 0")]
Share = Annotated[float, BeforeValidator(read_share), Takes("number from 0 to 1")]
Count = Annotated[int, BeforeValidator(read_count), Takes("whole number from 1 up")]
Truth = Annotated[bool, BeforeValidator(read_truth), Takes("true or false")]
Pixels = Annotated[int, BeforeValidator(read_pixels), Takes("whole number, 16 to 20000")]
Samples = Annotated[int, BeforeValidator(read_samples), Takes("whole number, 1 to 8")]
Kelvin = Annotated[
    float, BeforeValidator(read_kelvin), Takes("colour temperature, 1000 to 20000 K")
]
AutoOrKelvin = Annotated[
    float | Literal["auto"],
    BeforeValidator(read_auto_or_kelvin),
    Takes('`"auto"` or a colour temperature'),
]
AutoOrNumber = Annotated[
    float | Literal["auto"], BeforeValidator(read_auto_or_number), Takes('`"auto"` or a number')
]
UprightOrMm = Annotated[
    float | Literal["upright"],
    BeforeValidator(read_upright_or_mm),
    Takes('`"upright"` or millimetres'),
]
Reflectance = Annotated[
    tuple[float, float, float],
    BeforeValidator(read_reflectance),
    Takes('number from 0 to below 1, `"#rrggbb"`, or three linear values'),
]
Point = Annotated[
    tuple[float, float, float], BeforeValidator(read_point), Takes("three lengths, [x, y, z]")
]
Spot = Annotated[tuple[float, float], BeforeValidator(read_spot), Takes("two lengths, [x, y]")]
TurnRange = Annotated[
    tuple[float, float], BeforeValidator(read_turn_range), Takes("two angles, [least, largest]")
]
WallNames = Annotated[
    tuple[Literal["main", "opposite", "left", "right"], ...],
    BeforeValidator(read_wall_names),
    Takes("wall, or list of neighbouring walls"),
]
Axis = Literal["+x", "-x", "+y", "-y", "+z", "-z"]
Pair = Annotated[tuple[float, float], BeforeValidator(read_pair), Takes("two lengths, [right, up]")]


def takes_of(metadata: list[Any]) -> str | None:
    """Words of the `Takes` in a field's metadata, if it has one."""
    return next((m.words for m in metadata if isinstance(m, Takes)), None)
