"""A relief written as a texture: a TOML file and, in a folder of its name, the images."""

import io
import json
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image

#: First line of a TOML file that a command made, and may replace.
MADE = "# Made by rakelight relief; replaced when it is made again."


def texture_files(
    name: str,
    shares: NDArray[np.float32],
    *,
    width_m: float,
    height_m: float,
    depth_m: float,
    repeat: str,
    title: str | None = None,
    backing: str | float = "black",
    reflectance: float | None = None,
    reflectance_map: NDArray[np.uint8] | None = None,
    gloss: float = 0.0,
    suits_setback_m: tuple[float, float] | None = None,
    done: Sequence[str] = (),
) -> dict[str, bytes]:
    """Content of a texture's files.

    Parameters
    ----------
    name : str
        Of the TOML file and of the folder beside it.
    shares : ndarray of float32, shape (rows, columns)
        Heights from 0 to 1, row 0 at the foot.
    width_m, height_m, depth_m : float
        What the image shows, and what 1 stands for. [m]
    repeat : {"tile", "mirror", "stretch"}
        How it goes on.
    title : str, optional
        For captions; not given: the name.
    backing : str or float
        As the TOML file states it.
    reflectance : float, optional
        Mean, stated if given.
    reflectance_map : ndarray of uint8, shape (r, c, 3), optional
        sRGB-encoded, row 0 at the top.
    gloss : float
        0 to 1.
    suits_setback_m : tuple of float, optional
        [m]
    done : sequence of str
        Lines of comment: what was done to get here.

    Returns
    -------
    dict of str to bytes
        Relative names and contents; the TOML file comes last, so that it names what is there.
    """
    files: dict[str, bytes] = {}
    grey = np.rint(np.clip(shares[::-1], 0, 1).astype(np.float64) * 65535).astype(np.uint16)
    files[f"{name}/height.png"] = _png(grey)
    lines = [MADE, *(f"# {' '.join(line.split())}" for line in done)]
    lines += [
        f"title = {_quoted(title or name)}",
        f"heights = {_quoted(f'{name}/height.png')}",
        f'width = "{width_m:.9g} m"',
        f'height = "{height_m:.9g} m"',
        f'depth = "{depth_m * 1000:.7g} mm"',
        f"backing = {_quoted(backing) if isinstance(backing, str) else f'{backing:.7g}'}",
        f"repeat = {_quoted(repeat)}",
    ]
    if reflectance is not None:
        lines.append(f"reflectance = {reflectance:.6g}")
    if reflectance_map is not None:
        files[f"{name}/reflectance.png"] = _png(reflectance_map)
        lines.append(f"reflectance_map = {_quoted(f'{name}/reflectance.png')}")
    lines.append(f"gloss = {gloss:g}")
    if suits_setback_m is not None:
        low, high = (f'"{1000 * v:.6g} mm"' for v in suits_setback_m)
        lines.append(f"suits_setback = [{low}, {high}]")
    files[f"{name}.toml"] = ("\n".join(lines) + "\n").encode()
    return files


def _png(pixels: NDArray[np.uint16] | NDArray[np.uint8]) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(buffer, "PNG")
    return buffer.getvalue()


def _quoted(text: str) -> str:
    # JSON's escapes are TOML's, but for the delete sign
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
