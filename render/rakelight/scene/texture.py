"""A relief's image with its physical size, read by `read.relief`, put on walls by `build.wall`."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Repeat = Literal["tile", "mirror", "stretch"]


@dataclass(frozen=True, slots=True, eq=False)
class Texture:
    """One repeat of a relief.

    Parameters
    ----------
    name, title : str
        Short name, and name for captions.
    heights : ndarray of float32, shape (rows, columns)
        0 to 1, 1 toward the viewer; row 0 at the foot. Times `depth_m` for metres.
    width_m, height_m : float
        What the whole image shows. [m]
    depth_m : float
        Height that 1 stands for. [m], >= 0
    backing_m : float
        Where the plane lies that the relief is fixed to, on the scale of `heights` times
        `depth_m`: 0 where the height 0 lies, negative behind it. [m]
    repeat : {"tile", "mirror", "stretch"}
        How it goes on where the wall is larger; "stretch" fits one image to the wall.
    reflectance_encoded : ndarray of uint8, shape (rows, columns, 3)
        sRGB-encoded (IEC 61966-2-1) diffuse reflectance, row 0 at the foot; 1 x 1 if even.
    reflectance_scale : float
        Factor on its linear values, so that the mean is the stated reflectance.
    reflectance : float
        Mean diffuse reflectance (luminance-weighted). 0 to 1
    gloss : float
        0 for a dull surface, to 1.
    suits_setback_m : tuple of float or None
        Setbacks that show this relief well, for a first guess. [m]
    notes : tuple of str
        What the reader had to assume, one line each.
    """

    name: str
    title: str
    heights: NDArray[np.float32]
    width_m: float
    height_m: float
    depth_m: float
    backing_m: float
    repeat: Repeat
    reflectance_encoded: NDArray[np.uint8]
    reflectance_scale: float
    reflectance: float
    gloss: float = 0.0
    suits_setback_m: tuple[float, float] | None = None
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.heights.ndim != 2 or self.heights.size == 0:
            raise ValueError(f"heights have the shape {self.heights.shape}; rows and columns only")
        if not (self.width_m > 0 and self.height_m > 0 and self.depth_m >= 0):
            raise ValueError("width and height must be above 0 m, depth at least 0 m")
        self.heights.setflags(write=False)
        self.reflectance_encoded.setflags(write=False)
