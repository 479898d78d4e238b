"""Reliefs in: a height image and the TOML file beside it that says how large and deep it is."""

from collections.abc import Sequence
from pathlib import Path
from typing import cast

import numpy as np
from numpy.typing import NDArray

from rakelight.errors import InputError
from rakelight.read.heights import ENDINGS, HeightImage, read_heights
from rakelight.read.reflectance import even_reflectance, read_reflectance
from rakelight.read.shipped import shipped_folder
from rakelight.read.sidecar import DEEPEST_M, REPEATS, Stated, did_you_mean, read_sidecar
from rakelight.scene.texture import Repeat, Texture

_USUAL_REFLECTANCE = 0.5


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
    stated = Stated()
    if path.suffix.lower() == ".toml":
        stated = read_sidecar(path)
        image_path = cast(Path, stated.heights)
    else:
        image_path = path
        beside = path.with_suffix(".toml")
        if beside.is_file():
            stated = read_sidecar(beside)
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
    if chosen not in REPEATS:
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
    stated = read_sidecar(path, with_heights=False)
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
    guess = did_you_mean(path.name, known)
    raise InputError(
        f'"{path.name}": no relief of this name.{guess} There are {", ".join(known)}; '
        "or give a path."
    )


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
        if span > DEEPEST_M:
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
