"""What a camera sees, as arrays: one drawing that serves any number of pictures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.camera import Camera

#: Samples looked at at once.
_PART_SAMPLES = 1 << 18


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Surface and place seen in every sample of a picture.

    Parameters
    ----------
    ids : ndarray of int16, shape (rows * s, columns * s)
        Index into `names`; -1 where nothing is seen. Row 0 is the top.
    u_m, v_m : ndarray of float32, same shape
        Place on the surface in its own frame [m]; for a body u is the face's index.
    camera : Camera
        Where from.
    supersample : int
        Samples along each side of a pixel, the s above.
    names : tuple of str
        The room's surfaces, then its bodies.
    edges : ndarray of int64, shape (k,)
        Flat indices of the pixels where several of them meet, increasing.
    edge_owners : ndarray of int16, shape (k, 4)
        What meets there, indices as in `ids`; -2 where fewer than four do.
    edge_shares : ndarray of float32, shape (k, 4)
        How much of the pixel each covers; sum 1.
    """

    ids: NDArray[np.int16]
    u_m: NDArray[np.float32]
    v_m: NDArray[np.float32]
    camera: Camera
    supersample: int
    names: tuple[str, ...]
    edges: NDArray[np.int64]
    edge_owners: NDArray[np.int16]
    edge_shares: NDArray[np.float32]

    def __post_init__(self) -> None:
        for array in (self.ids, self.u_m, self.v_m, self.edges, self.edge_owners, self.edge_shares):
            array.setflags(write=False)

    def present(self) -> NDArray[np.bool_]:
        """Which of `names` some sample belongs to."""
        found = np.zeros(len(self.names) + 1, np.bool_)
        for part in np.array_split(self.ids, max(1, self.ids.size // _PART_SAMPLES)):
            # counted in parts: a count wants eight bytes for each sample
            found |= np.bincount(part.reshape(-1) + 1, minlength=found.size) > 0
        return found[1:]


def rays(
    camera: Camera, x_px: NDArray[np.float64], y_px: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Room directions through places in the picture, of depth 1 along the optical axis.

    The inverse of `Camera.pixels`.

    Parameters
    ----------
    camera : Camera
        Where from.
    x_px, y_px : ndarray of float64, shape (...)
        From the picture's upper left corner.

    Returns
    -------
    ndarray of float64, shape (..., 3)
        Not normalised.
    """
    per_unit = camera.width_px / 36.0 * camera.lens_mm
    right = np.cross(camera.forward, camera.up)
    shift_px = camera.width_px / 36.0 * camera.shift_mm
    x = (x_px - camera.width_px / 2) / per_unit
    y = (camera.height_px / 2 + shift_px - y_px) / per_unit
    out: NDArray[np.float64] = camera.forward + x[..., None] * right + y[..., None] * camera.up
    return out
