"""Points of a relief in rows along a run: its vertices, or some of what lies between them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.light.turned import TurnedRelief
from rakelight.scene.frame import Frame

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class RowPoints:
    """Points in rows, each row's one after the other.

    Parameters
    ----------
    heights_m : ndarray of float32, shape (points,)
        Over the mean plane. [m]
    normals : ndarray of float32, shape (3, points)
        Unit normals as (u, v, n) of `frame`.
    horizons : ndarray of float32, shape (azimuths, points)
        As in `TurnedRelief`.
    places_u : ndarray of float32, shape (points,)
        u, increasing within a row, 0 to `width_m`. [m]
    begins : ndarray of int64, shape (rows + 1,)
        First point of each row, and the number of points.
    rows_v : ndarray of float64, shape (rows,)
        v of each row. [m]
    width_m : float
        Of the turned wall. [m]
    frame : Frame
        Of the turned wall.
    tie_m : float
        As in `TurnedRelief`. [m]
    """

    heights_m: Floats
    normals: Floats
    horizons: Floats
    places_u: Floats
    begins: NDArray[np.int64]
    rows_v: NDArray[np.float64]
    width_m: float
    frame: Frame
    tie_m: float


def rows_of(turned: TurnedRelief) -> RowPoints:
    """All vertices of a turned relief, in rows."""
    rows, columns = turned.heights_m.shape
    u = np.arange(columns, dtype=np.float32) * np.float32(turned.step_u_m)
    return RowPoints(
        # a copy that may be written to, so that the kernel is compiled for one type of array
        heights_m=np.array(turned.heights_m, order="C").reshape(-1),
        normals=turned.normals.reshape(3, -1),
        horizons=turned.horizons.reshape(len(turned.horizons), -1),
        places_u=np.tile(u, rows),
        begins=np.arange(rows + 1, dtype=np.int64) * columns,
        rows_v=np.linspace(0.0, (rows - 1) * turned.step_v_m, rows),
        width_m=float(u[-1]),
        frame=turned.frame,
        tie_m=turned.tie_m,
    )
