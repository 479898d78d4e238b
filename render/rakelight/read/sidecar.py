"""The TOML file beside a height image or a map: its keys, read and checked."""

import difflib
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rakelight.errors import InputError
from rakelight.units import parse_length

REPEATS = ("tile", "mirror", "stretch")
DEEPEST_M = 1.0
_LARGEST_M = 100.0
_KEYS = (
    "title",
    "heights",
    "width",
    "height",
    "depth",
    "backing",
    "repeat",
    "reflectance",
    "reflectance_map",
    "gloss",
    "suits_setback",
)


@dataclass(slots=True)
class Stated:
    """What the TOML file beside the image says, checked; None where it says nothing."""

    title: str | None = None
    heights: Path | None = None
    width: float | None = None
    height: float | None = None
    depth: float | None = None
    backing: str | float | None = None
    backing_behind: float | None = None
    repeat: str | None = None
    reflectance: float | tuple[float, float, float] | None = None
    reflectance_map: Path | None = None
    gloss: float | None = None
    suits_setback: tuple[float, float] | None = None


def did_you_mean(word: str, known: Sequence[str]) -> str:
    """Return a guess for a word that is not known, or nothing."""
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return f' Did you mean "{close[0]}"?' if close else ""


def read_sidecar(path: Path, *, with_heights: bool = True) -> Stated:
    """Read and check the TOML file of a relief or a finish.

    Parameters
    ----------
    path : Path
        The file.
    with_heights : bool
        Whether it has to name a height image.

    Raises
    ------
    InputError
        One line a fault.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}).") from None
    except UnicodeDecodeError:
        raise InputError(f"{path}: not a text file in UTF-8.") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path}: not TOML: {error}.") from None
    faults = []
    for key in table:
        if key not in _KEYS:
            guess = did_you_mean(key, _KEYS) or f" There are {', '.join(_KEYS)}."
            faults.append(f'{path}: "{key}": no such key.{guess}')
    stated = Stated()
    for key, read in _CHECKS.items():
        if key in table:
            try:
                setattr(stated, key, read(table[key], path.parent))
            except ValueError as error:
                shown = " ".join(repr(table[key]).split())[:60].replace("'", '"')
                faults.append(f'{path}: "{key}" = {shown}: {error}.')
    if with_heights and "heights" not in table:
        faults.append(f'{path}: "heights": missing. Name the image, such as "height.png".')
    if isinstance(stated.backing, str) and stated.backing not in ("black", "white"):
        stated.backing_behind = parse_length(stated.backing)
        stated.backing = None
    if faults:
        raise InputError(*faults)
    return stated


def _text(value: Any, _folder: Path) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("must be text")
    return value


def _file(value: Any, folder: Path) -> Path:
    path = folder / _text(value, folder)
    if not path.is_file():
        raise ValueError("no such file; a path starts at this TOML file's folder")
    return path


def _length(least: float, most: float) -> Callable[[Any, Path], float]:
    def read(value: Any, _folder: Path) -> float:
        length = parse_length(value)
        if not length > 0 if least == 0 else not length >= least:
            raise ValueError("must be above 0")
        if length > most:
            raise ValueError(f"more than {most:g} m")
        return length

    return read


def _depth(value: Any, _folder: Path) -> float:
    depth = parse_length(value)
    if not depth >= 0:
        raise ValueError("must be 0 or more")
    if depth > DEEPEST_M:
        raise ValueError(f"more than {DEEPEST_M:g} m; this is a relief, not a room")
    return depth


def _backing(value: Any, _folder: Path) -> str | float:
    says = '"black", "white", a grey from 0 to 1, or a length behind the deepest point'
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise ValueError(f"use {says}")
    if isinstance(value, str):
        if value not in ("black", "white"):
            try:
                behind = parse_length(value)
            except ValueError:
                raise ValueError(f"use {says}") from None
            if not 0 <= behind <= DEEPEST_M:
                raise ValueError(f"must be 0 to {DEEPEST_M:g} m")
        return value
    if not 0 <= value <= 1:
        raise ValueError("a grey is 0 (black) to 1 (white)")
    return float(value)


def _choice(value: Any, _folder: Path) -> str:
    if value not in REPEATS:
        guess = did_you_mean(str(value), REPEATS)
        raise ValueError(f'must be "tile", "mirror" or "stretch".{guess}'.rstrip("."))
    return str(value)


def _share(value: Any, _folder: Path) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 1:
        raise ValueError("must be a number from 0 to 1")
    return float(value)


def _colour(value: Any, folder: Path) -> float | tuple[float, float, float]:
    if isinstance(value, list):
        if len(value) != 3:
            raise ValueError("must be one number or three, 0 to 1")
        red, green, blue = (_share(v, folder) for v in value)
        return red, green, blue
    return _share(value, folder)


def _range(value: Any, _folder: Path) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError('must be two lengths, such as ["50 mm", "150 mm"]')
    low, high = parse_length(value[0]), parse_length(value[1])
    if not 0 < low <= high:
        raise ValueError("must be above 0, the smaller first")
    return low, high


_CHECKS: dict[str, Callable[[Any, Path], Any]] = {
    "title": _text,
    "heights": _file,
    "width": _length(0, _LARGEST_M),
    "height": _length(0, _LARGEST_M),
    "depth": _depth,
    "backing": _backing,
    "repeat": _choice,
    "reflectance": _colour,
    "reflectance_map": _file,
    "gloss": _share,
    "suits_setback": _range,
}
