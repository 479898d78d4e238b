"""Outcomes in the trade's words, read into records: what `suggest` searches for."""

import re
from dataclasses import dataclass
from typing import Literal

from rakelight.errors import InputError
from rakelight.units import (
    IlluminanceUnit,
    LengthUnit,
    parse_illuminance,
    parse_length,
    say_illuminance,
    say_length,
    say_ratio,
)

Kind = Literal["drama_at", "drama_band", "even", "glow", "throw", "average", "cutoff"]

#: How wishes may be said, as shown where one is not understood.
EXAMPLES = (
    '"drama at 1.5 m", "drama 0.8-1.8 m", "even wall, at least 200 lx", "even ceiling", '
    '"focal glow at 1.6 m, 3:1", "throw 3 m", "average 300 lx on main", '
    '"average 300 lx on work plane", "cut-off in the corner"'
)

WORK_PLANE = "work plane"
_NAMES = ("main", "opposite", "left", "right", "floor", "ceiling")


@dataclass(frozen=True, slots=True)
class Wish:
    """One outcome to search for.

    Parameters
    ----------
    text : str
        As it was said.
    kind : str
        Which outcome.
    surface : str
        Whose light it is about; empty: the surface that the run lights.
    at_m : float
        Height of the drama or the glow, foot of the drama's band, or the throw. [m]
    to_m : float
        Top of the drama's band. [m]
    ratio : float
        Wished max:min of a focal glow.
    lx : float
        Wished average, or the least average of an even surface; 0: none stated. [lx]
    share : float
        Share of the peak that is left where a throw ends.
    assumed : bool
        Whether `lx` was not stated but taken from the scene.
    """

    text: str
    kind: Kind
    surface: str = ""
    at_m: float = 0.0
    to_m: float = 0.0
    ratio: float = 1.0
    lx: float = 0.0
    share: float = 0.5
    assumed: bool = False


def parse_wish(text: str, length: LengthUnit = "m", illuminance: IlluminanceUnit = "lx") -> Wish:
    """Read a wish.

    Parameters
    ----------
    text : str
        As in `EXAMPLES`.
    length, illuminance : str
        Units of bare numbers.

    Raises
    ------
    InputError
        In one line: what is not understood, and how wishes are said.
    """
    said = " ".join(text.split())
    low = said.lower()
    try:
        wish = _parsed(said, low, length, illuminance)
    except ValueError as error:
        raise InputError(f'--want "{said}": {error}.') from None
    if wish is None:
        raise InputError(f'--want "{said}": not understood. Right is one of {EXAMPLES}.')
    return wish


def _parsed(said: str, low: str, length: LengthUnit, lux: IlluminanceUnit) -> Wish | None:
    if match := re.fullmatch(r"(?:texture )?drama at (.+)", low):
        return Wish(said, "drama_at", at_m=_height(match[1], length))
    if match := re.fullmatch(r"(?:texture )?drama (?:from |over )?(.+?) ?(?:-|–| to ) ?(.+)", low):
        foot, top = _span(match[1], match[2], length)
        return Wish(said, "drama_band", at_m=foot, to_m=top)
    if match := re.fullmatch(r"even (\w+)(?:, ?| )?(?:at least (.+))?", low):
        floor = _lux(match[2], lux) if match[2] else 0.0
        return Wish(said, "even", _surface(match[1]), lx=floor)
    if match := re.fullmatch(r"(?:focal )?glow at (.+?)(?:, ?| at )(\d+(?:\.\d+)?) ?: ?1", low):
        ratio = float(match[2])
        if not 1 < ratio <= 1000:
            raise ValueError(f"a glow of {match[2]}:1; the ratio must lie above 1 and below 1000")
        return Wish(said, "glow", at_m=_height(match[1], length), ratio=ratio)
    if match := re.fullmatch(r"throw (.+?)(?: to (?:a |one )?(half|tenth))?", low):
        share = 0.1 if match[2] == "tenth" else 0.5
        return Wish(said, "throw", at_m=_height(match[1], length), share=share)
    if match := re.fullmatch(r"average (.+?) on (?:the )?(.+)", low):
        return Wish(said, "average", _surface(match[2]), lx=_lux(match[1], lux))
    if re.fullmatch(r"(?:the )?cut-? ?off in(?:to)? (?:the )?corner", low):
        return Wish(said, "cutoff")
    return None


def _surface(word: str) -> str:
    word = word.removesuffix(" wall") if word != "wall" else word
    if word == "wall":
        return ""
    if word in ("work plane", "workplane", "working plane"):
        return WORK_PLANE
    if word not in _NAMES:
        raise ValueError(f'no surface "{word}"; there are wall, {", ".join(_NAMES)} and work plane')
    return word


def _height(text: str, unit: LengthUnit) -> float:
    value = parse_length(text, unit)
    if not value > 0:
        raise ValueError(f'"{text}" must be above 0')
    return value


def _span(low: str, high: str, unit: LengthUnit) -> tuple[float, float]:
    top = _height(high, unit)
    # "0.8-1.8 m": the first number shares the second one's unit
    word = re.search(r"[a-z]+\.?$", high.strip())
    if word and not re.search(r"[a-z]", low):
        low = f"{low} {word[0]}"
    foot = parse_length(low, unit)
    if not 0 <= foot < top:
        raise ValueError(f'"{low} - {high}" must go from the lower height to the higher one')
    return foot, top


def _lux(text: str, unit: IlluminanceUnit) -> float:
    value = parse_illuminance(text, unit)
    if not value > 0:
        raise ValueError(f'"{text}" must be above 0')
    return value


def wish_in_words(wish: Wish, length: LengthUnit, lux: IlluminanceUnit) -> str:
    """Say exactly what is searched for and when it counts as met."""
    on = wish.surface or "the lit wall"
    at = say_length(wish.at_m, length)
    match wish.kind:
        case "drama_at":
            return (
                f"drama centre {at} over the floor, met within {say_length(CENTRE_M, length)}; "
                "of two that come about as near, the stronger texture over the wall's mean"
            )
        case "drama_band":
            return (
                f"texture at least half its strongest all over {at} to "
                f"{say_length(wish.to_m, length)}, and as much of it there as can be"
            )
        case "even":
            least = f", average at least {say_illuminance(wish.lx, lux)}" if wish.lx else ""
            if wish.assumed:
                least += " (none was stated: half of what the scene gives as it is)"
            return f"smallest max:min on {on}{least}"
        case "glow":
            return (
                f"brightest band {at} over the floor (met within {say_length(GLOW_M, length)}) "
                f"at max:min {say_ratio(wish.ratio)} (met within {GLOW_SHARE:.0%})"
            )
        case "throw":
            left = "half" if wish.share > 0.3 else "a tenth"
            return (
                f"{left} of the peak left {at} from the run (met within {THROW_SHARE:.0%}); "
                "of two that come about as near, the higher average"
            )
        case "average":
            return (
                f"average {say_illuminance(wish.lx, lux)} on {on} as dimmed (met within "
                f"{AVERAGE_SHARE:.0%}); of two about as near, the smaller max:min"
            )
        case "cutoff":
            return (
                "line where the opening's centre is just hidden, through the corner of wall and "
                f"ceiling (met within {say_length(CORNER_M, length)})"
            )


#: How near counts as met; ours. [m, share]
CENTRE_M = 0.05
GLOW_M = 0.15
GLOW_SHARE = 0.15
THROW_SHARE = 0.05
AVERAGE_SHARE = 0.05
CORNER_M = 0.005
