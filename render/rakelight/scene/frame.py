"""A right-handed frame in the room: where a surface's own (u, v, n) lies.

v up ^   n toward the viewer
     |  /
     | /
     o-----> u right          u x v = n
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Origin and unit axes of a surface, in room coordinates.

    Parameters
    ----------
    origin_m : ndarray of float64, shape (3,)
        Where u = v = n = 0. [m]
    u, v, n : ndarray of float64, shape (3,)
        Unit axes with u x v = n; n points into the room, toward the viewer.
    """

    origin_m: Floats
    u: Floats
    v: Floats
    n: Floats

    def to_room(self, uvn_m: Floats) -> Floats:
        """Points given as (u, v, n), shape (..., 3) [m], in room coordinates [m]."""
        out: Floats = self.origin_m + uvn_m @ np.stack([self.u, self.v, self.n])
        return out

    def from_room(self, xyz_m: Floats) -> Floats:
        """Room points, shape (..., 3) [m], as (u, v, n) of this frame [m]."""
        out: Floats = (xyz_m - self.origin_m) @ np.stack([self.u, self.v, self.n], axis=1)
        return out

    def direction_from_room(self, vectors: Floats) -> Floats:
        """Room directions, shape (..., 3), as (u, v, n) components of this frame."""
        out: Floats = vectors @ np.stack([self.u, self.v, self.n], axis=1)
        return out
