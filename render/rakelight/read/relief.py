"""Reliefs in: a height image and the TOML file beside it that says how large and deep it is."""

import difflib
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.read.heights import ENDINGS, HeightImage, read_heights
from rakelight.read.reflectance import even_reflectance, read_reflectance
from rakelight.read.shipped import shipped_folder
from rakelight.scene.texture import Repeat, Texture
from rakelight.units import parse_length

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
_REPEATS = ("tile", "mirror", "stretch")
_LARGEST_M = 100.0
_DEEPEST_M = 1.0
_USUAL_REFLECTANCE = 0.5


@dataclass(slots=True)
class _Stated:
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


def read_texture(
    path_or_name: str | Path,
    folders: Sequence[Path] = (),
    *,
    width_m: float | None = None,
    height_m: float | None = None,
    depth_m: float | None = None,
    repeat: str | None = None,
    backing: str | float | None = None,
    reflectance: float | tuple[float, float, float] | None = None,
) -> Texture:
    """Read a relief.

    Parameters
    ----------
    path_or_name : str or Path
        A height image, the TOML file of one, or the name of a shipped relief.
    folders : sequence of Path
        Where to look for a name before the shipped reliefs.
    width_m, height_m, depth_m : float, optional
        Instead of what the TOML file says. [m]
    repeat : {"tile", "mirror", "stretch"}, optional
        Likewise.
    backing : {"black", "white"} or float, optional
        Likewise; a number is the distance from the deepest point back to the backing. [m]
    reflectance : float or three floats, optional
        Mean diffuse reflectance, even or in linear Rec.709; likewise.

    Returns
    -------
    Texture

    Raises
    ------
    InputError
        One line a fault.
    """
    path = _find(path_or_name, folders)
    stated = _Stated()
    if path.suffix.lower() == ".toml":
        stated = _read_sidecar(path)
        image_path = cast(Path, stated.heights)
    else:
        image_path = path
        beside = path.with_suffix(".toml")
        if beside.is_file():
            stated = _read_sidecar(beside)
    image = read_heights(image_path)
    notes = list(image.notes)

    width = width_m if width_m is not None else stated.width
    height = height_m if height_m is not None else stated.height
    rows, columns = image.values.shape
    if width is not None and height is None:
        height = width * rows / columns
        notes.append(f"{path.name}: height {height:.3g} m follows from square pixels.")
    if height is not None and width is None:
        width = height * columns / rows
        notes.append(f"{path.name}: width {width:.3g} m follows from square pixels.")
    if width is None or height is None:
        raise InputError(
            f'{path}: its real size is not stated. Add width, such as width = "3.6 m".'
        )
    wanted = depth_m if depth_m is not None else stated.depth
    values, depth = _normalised(path, image, wanted, notes)
    rule = backing if isinstance(backing, str) else stated.backing
    if rule == "white":
        values = 1 - values
    elif rule not in (None, "black") and isinstance(rule, str):
        raise InputError(f'{path}: backing "{rule}". Use "black", "white" or a grey from 0 to 1.')
    behind = float(rule) * depth if isinstance(rule, float) else 0.0
    gap = backing if isinstance(backing, int | float) else stated.backing_behind
    if gap is not None:
        behind = float(values.min()) * depth - float(gap)
    mean = float(values.mean(dtype=np.float64))
    if depth > 0 and behind >= mean * depth:
        raise InputError(
            f"{path}: backing at {behind / depth:.2f} of the grey scale, but the mean plane lies "
            f"at {mean:.2f}. The backing is the plane behind the relief."
        )
    chosen = repeat if repeat is not None else stated.repeat or "tile"
    if chosen not in _REPEATS:
        raise InputError(f'{path}: repeat "{chosen}". Use "tile", "mirror" or "stretch".')
    wish = reflectance if reflectance is not None else stated.reflectance
    encoded, scale, mean_reflectance = _reflectance(path, stated.reflectance_map, wish, notes)
    return Texture(
        name=path.stem,
        title=stated.title or path.stem,
        heights=np.ascontiguousarray(values[::-1]),
        width_m=width,
        height_m=height,
        depth_m=depth,
        backing_m=behind,
        repeat=cast(Repeat, chosen),
        reflectance_encoded=encoded,
        reflectance_scale=scale,
        reflectance=mean_reflectance,
        gloss=stated.gloss or 0.0,
        suits_setback_m=stated.suits_setback,
        notes=tuple(notes),
    )


def read_finish(
    path: Path, *, reflectance: float | tuple[float, float, float] | None = None
) -> Texture:
    """Read a finish: a TOML file as a relief has it, of which the heights do not count.

    Parameters
    ----------
    path : Path
        The TOML file.
    reflectance : float or three floats, optional
        Mean diffuse reflectance instead of what the file says, even or in linear Rec.709.

    Returns
    -------
    Texture
        Of depth 0.

    Raises
    ------
    InputError
        One line a fault.
    """
    if path.suffix.lower() != ".toml":
        raise InputError(
            f"{path}: a finish is a TOML file with reflectance_map and width, such as "
            'reflectance_map = "oak.jpg" and width = "2.4 m".'
        )
    stated = _read_sidecar(path, with_heights=False)
    notes: list[str] = []
    wish = reflectance if reflectance is not None else stated.reflectance
    encoded, scale, mean = _reflectance(path, stated.reflectance_map, wish, notes)
    rows, columns = encoded.shape[:2]
    width, height = stated.width, stated.height
    if stated.reflectance_map is None:
        width, height = width or 1.0, height or 1.0
    elif width is None and height is None:
        raise InputError(
            f'{path}: its real size is not stated. Add width, such as width = "2.4 m".'
        )
    width = width if width is not None else cast(float, height) * columns / rows
    height = height if height is not None else width * rows / columns
    return Texture(
        name=path.stem,
        title=stated.title or path.stem,
        heights=np.zeros((1, 1), np.float32),
        width_m=width,
        height_m=height,
        depth_m=0.0,
        backing_m=0.0,
        repeat=cast(Repeat, stated.repeat or "tile"),
        reflectance_encoded=encoded,
        reflectance_scale=scale,
        reflectance=mean,
        gloss=stated.gloss or 0.0,
        notes=tuple(notes),
    )


def _find(path_or_name: str | Path, folders: Sequence[Path]) -> Path:
    path = Path(path_or_name)
    if path.suffix or path.parent != Path("."):
        for candidate in (path, *(folder / path for folder in folders)):
            if candidate.is_file():
                return candidate
        if path.is_dir():
            raise InputError(f"{path}: a folder. Name a height image or its TOML file.")
        raise InputError(f"{path}: no such file.")
    homes = [*folders, shipped_folder("textures")]
    for home in homes:
        for ending in (".toml", *ENDINGS):
            candidate = home / f"{path.name}{ending}"
            if candidate.is_file():
                return candidate
    known = sorted({file.stem for home in homes if home.is_dir() for file in home.glob("*.toml")})
    guess = _did_you_mean(path.name, known)
    raise InputError(
        f'"{path.name}": no relief of this name.{guess} There are {", ".join(known)}; '
        "or give a path."
    )


def _did_you_mean(word: str, known: Sequence[str]) -> str:
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return f' Did you mean "{close[0]}"?' if close else ""


def _read_sidecar(path: Path, *, with_heights: bool = True) -> _Stated:
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
            guess = _did_you_mean(key, _KEYS) or f" There are {', '.join(_KEYS)}."
            faults.append(f'{path}: "{key}": no such key.{guess}')
    stated = _Stated()
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
    if depth > _DEEPEST_M:
        raise ValueError(f"more than {_DEEPEST_M:g} m; this is a relief, not a room")
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
            if not 0 <= behind <= _DEEPEST_M:
                raise ValueError(f"must be 0 to {_DEEPEST_M:g} m")
        return value
    if not 0 <= value <= 1:
        raise ValueError("a grey is 0 (black) to 1 (white)")
    return float(value)


def _choice(value: Any, _folder: Path) -> str:
    if value not in _REPEATS:
        guess = _did_you_mean(str(value), _REPEATS)
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


def _normalised(
    path: Path, image: HeightImage, depth: float | None, notes: list[str]
) -> tuple[NDArray[np.float32], float]:
    """Heights from 0 to 1 and the depth that 1 stands for."""
    if not image.in_metres:
        if depth is None:
            raise InputError(
                f'{path}: its depth is not stated. Add depth, such as depth = "40 mm": from the '
                "image's black to its white."
            )
        if image.levels is not None and image.levels <= 256 and depth == 0:
            notes.clear()
        return image.values, depth
    low, high = float(image.values.min()), float(image.values.max())
    span = high - low
    if depth is None:
        if span > _DEEPEST_M:
            raise InputError(
                f"{path}: heights span {span:.3g} m; floats are taken as metres. State the depth "
                "to scale them."
            )
        depth = span
    else:
        notes.append(f"{path.name}: float heights scaled to the stated depth.")
    if span == 0:
        return np.zeros_like(image.values), depth
    return ((image.values.astype(np.float64) - low) / span).astype(np.float32), depth


def _reflectance(
    path: Path,
    map_path: Path | None,
    wish: float | tuple[float, float, float] | None,
    notes: list[str],
) -> tuple[NDArray[np.uint8], float, float]:
    if map_path is not None:
        return read_reflectance(map_path, wish, notes)
    if wish is None:
        wish = _USUAL_REFLECTANCE
        notes.append(f"{path.name}: no reflectance stated; {_USUAL_REFLECTANCE:g} is assumed.")
    return even_reflectance(wish)
