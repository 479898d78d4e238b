"""A camera: a pinhole with a 36 mm frame width, and a shift that keeps walls upright."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Where the picture is taken from.

    Parameters
    ----------
    name : str
        ``front``, ``seat``, ``along`` or the user's own.
    eye_m : ndarray of float64, shape (3,)
        Position of the pinhole in the room. [m]
    forward, up : ndarray of float64, shape (3,)
        Unit vectors, perpendicular: optical axis and the picture's vertical.
    lens_mm : float
        Focal length for a frame 36 mm wide. [mm]
    shift_mm : float
        Vertical shift of the frame: positive moves the picture's centre up in the scene. [mm]
    width_px, height_px : int
        Size of the picture.
    """

    name: str
    eye_m: NDArray[np.float64]
    forward: NDArray[np.float64]
    up: NDArray[np.float64]
    lens_mm: float
    shift_mm: float
    width_px: int
    height_px: int

    def same_view(self, other: "Camera") -> bool:
        """Whether another camera, whatever its name, takes the same picture."""
        return all(
            np.array_equal(getattr(self, field.name), getattr(other, field.name))
            for field in fields(self)
            if field.name != "name"
        )

    def pixels(self, points_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where room points land, shape (..., 3) [m] to (..., 2) pixels (x right, y down).

        The picture's upper left corner is (0, 0); pixel centres are at halves.
        """
        right = np.cross(self.forward, self.up)
        relative = points_m - self.eye_m
        depth = relative @ self.forward
        per_mm = self.width_px / 36.0
        x = self.width_px / 2 + per_mm * self.lens_mm * (relative @ right) / depth
        y = self.height_px / 2 - per_mm * (self.lens_mm * (relative @ self.up) / depth)
        return np.stack([x, y + per_mm * self.shift_mm], axis=-1)
