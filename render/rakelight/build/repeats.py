"""Where a wall shows the same stones so often that the eye finds the pattern."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.camera import Camera
from rakelight.scene.scene import Caveat
from rakelight.scene.surfaces import Surface
from rakelight.scene.texture import Texture
from rakelight.units import LengthUnit, say_length

#: So many copies side by side in one picture are seen as a pattern; two are met as likeness. Ours.
SEEN_COPIES = 3.0
#: A texture that is this much like itself, shifted by less than its own size, is regular by
#: nature: courses, slats, tiles. Its repeat is lost among its own. Ours.
REGULAR = 0.5
#: Shifts over which likeness is looked for, as shares of the texture's size.
LEAST_SHIFT, MOST_SHIFT = 0.1, 0.5
#: Places looked at along each side of a wall.
PLACES = 25


def likeness(heights: NDArray[np.float32]) -> tuple[float, float]:
    """How much a texture is like itself shifted within its own size, along u and along v.

    Parameters
    ----------
    heights : ndarray of float32, shape (rows, columns)
        One repeat.

    Returns
    -------
    tuple of float
        Greatest autocorrelation of its lines at shifts from a tenth to a half of its size; 1
        where heights do not vary along an axis.
    """
    along_u = _line_likeness(heights[:: max(1, heights.shape[0] // 256)])
    return along_u, _line_likeness(heights[:, :: max(1, heights.shape[1] // 256)].T)


def _line_likeness(lines: NDArray[np.float32]) -> float:
    count = lines.shape[1]
    if count < 8 or float(lines.max()) == float(lines.min()):
        return 1.0
    whole = lines.astype(np.float64) - lines.mean(dtype=np.float64)
    power = np.zeros(count // 2 + 1)
    for first in range(0, len(whole), 64):  # bounded work space
        power += (np.abs(np.fft.rfft(whole[first : first + 64], axis=1)) ** 2).sum(axis=0)
    like = np.fft.irfft(power, count)
    shifts = slice(math.ceil(LEAST_SHIFT * count), math.floor(MOST_SHIFT * count) + 1)
    return float(like[shifts].max() / like[0])


def seen_size(surface: Surface, camera: Camera) -> tuple[float, float]:
    """Width and height of the part of a surface that a camera has in its frame. [m]."""
    width, height = surface.grid.width_m, surface.grid.height_m
    u, v = (np.linspace(0.0, size, PLACES) for size in (width, height))
    uvn = np.stack([*np.meshgrid(u, v), np.zeros((PLACES, PLACES))], axis=-1)
    points = surface.frame.to_room(uvn.reshape(-1, 3))
    ahead = (points - camera.eye_m) @ camera.forward
    # a camera behind a surface does not see it
    if float((camera.eye_m - surface.frame.origin_m) @ surface.frame.n) <= 0:
        return 0.0, 0.0
    seen = ahead > 0.05
    pixels = camera.pixels(points[seen])
    inside = (pixels >= 0).all(axis=1) & (pixels < [camera.width_px, camera.height_px]).all(axis=1)
    at = uvn.reshape(-1, 3)[seen][inside]
    if len(at) < 2:
        return 0.0, 0.0
    spread = np.ptp(at[:, :2], axis=0) + np.array([width, height]) / (PLACES - 1)
    return min(float(spread[0]), width), min(float(spread[1]), height)


def repeats(
    walls: Mapping[str, Surface],
    textures: Mapping[str, Texture],
    cameras: Sequence[Camera],
    unit: LengthUnit,
) -> list[Caveat]:
    """Name the walls on which a picture shows the same stones three times over or more.

    Nothing is said of textures that are mirrored or stretched, of those that are regular by
    nature, nor of a wall that no camera sees that much of.

    Parameters
    ----------
    walls : mapping of str to Surface
        By surface name.
    textures : mapping of str to Texture
        What each was made from.
    cameras : sequence of Camera
        The scene's.
    unit : {"m", "mm", "ft", "in"}
        Unit of the lengths in the texts.
    """
    found = []
    for name, texture in textures.items():
        if texture.repeat != "tile" or texture.depth_m == 0:
            continue
        wall = walls[name]
        size = (texture.width_m, texture.height_m)
        like: tuple[float, float] | None = None
        for camera in cameras:
            copies = [seen / one for seen, one in zip(seen_size(wall, camera), size, strict=True)]
            if max(copies) < SEEN_COPIES:
                continue
            like = likeness(texture.heights) if like is None else like
            often = [
                (count, word)
                for count, word, same in zip(copies, ("across", "up"), like, strict=True)
                if count >= SEEN_COPIES and same < REGULAR
            ]
            if not often:
                continue
            said = " and ".join(f"{count:.1f} times {word}" for count, word in often)
            every = " x ".join(say_length(one, unit) for one in size)
            says = (
                f'{texture.title} comes again every {every}, {said} in the view "{camera.name}": '
                "the eye finds the pattern. Use a larger sample of it, or let it go on mirrored."
            )
            found.append(Caveat("repeats", f"relief on {name}", says))
            break
    return found
