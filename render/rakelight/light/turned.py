"""A relief turned so that a run lies above its rows: one direction is all the light has to know.

      side "up" is the wall as it stands; for a run at the right, its rows
      run along -v and its new v points to the run:

v ^                  v' (toward the run) = u
  |      run         u' = -v
  |       |
  o---> u |
"""

from dataclasses import dataclass
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.frame import Frame

Side = Literal["up", "down", "right", "left"]
#: Far above a vertex's rounding, far below anything that light could show. [m]
TIE_M = 2e-6
Array = TypeVar("Array", NDArray[np.float32], NDArray[np.bool_], NDArray[np.int32])


def turn_field(field: Array, side: Side) -> Array:
    """View of a field, shape (..., rows, columns), with `side` at its last row."""
    if side == "down":
        return field[..., ::-1, ::-1]
    if side == "right":
        return np.swapaxes(field, -1, -2)[..., :, ::-1]
    if side == "left":
        return np.swapaxes(field, -1, -2)[..., ::-1, :]
    return field


def turn_vectors(vectors: NDArray[np.float32], side: Side) -> NDArray[np.float32]:
    """(u, v, n) fields, shape (3, rows, columns), as fields of the turned wall's (u', v', n)."""
    u, v, n = (turn_field(part, side) for part in vectors)
    if side == "down":
        u, v = -u, -v
    elif side == "right":
        u, v = -v, u
    elif side == "left":
        u, v = v, -u
    return np.ascontiguousarray(np.stack([u, v, n]))


def turned_back(vectors: NDArray[np.float32], side: Side) -> NDArray[np.float32]:
    """The inverse of `turn_vectors`: fields of the turned wall's (u', v', n) as the wall's own."""
    # turned once more to where it came from: right and left undo each other
    back: dict[Side, Side] = {"right": "left", "left": "right"}
    return turn_vectors(vectors, back.get(side, side))


def lists_back(vectors: NDArray[np.float32], side: Side) -> NDArray[np.float32]:
    """Vectors of the turned wall's (u', v', n), shape (3, points), as the wall's own (u, v, n)."""
    u, v, n = vectors
    if side == "down":
        u, v = -u, -v
    elif side == "right":
        u, v = v, -u
    elif side == "left":
        u, v = -v, u
    return np.stack([u, v, n])


def turn_frame(frame: Frame, side: Side, width_m: float, height_m: float) -> Frame:
    """Frame of the turned wall; its origin is the lower left corner seen with `side` on top."""
    corner = {"up": (0.0, 0.0), "down": (width_m, height_m), "right": (0.0, height_m)}
    u, v = corner.get(side, (width_m, 0.0))
    origin = frame.to_room(np.array([u, v, 0.0]))
    if side == "down":
        return Frame(origin, -frame.u, -frame.v, frame.n)
    if side == "right":
        return Frame(origin, -frame.v, frame.u, frame.n)
    if side == "left":
        return Frame(origin, frame.v, -frame.u, frame.n)
    return frame


@dataclass(frozen=True, slots=True, eq=False)
class TurnedRelief:
    """A relief with its horizons, seen with one side up.

    Parameters
    ----------
    frame : Frame
        Of the turned wall: a run on this side lies at larger v than what it lights.
    heights_m : ndarray of float32, shape (rows, columns)
        Turned heights. [m]
    normals : ndarray of float32, shape (3, rows, columns)
        Turned unit vertex normals, as (u, v, n) of `frame`.
    horizons : ndarray of float32, shape (azimuths, rows, columns)
        Horizon tangents at -90 + (k + 1/2) 180 / azimuths degrees from v toward u.
    step_u_m, step_v_m : float
        Distance between columns and between rows. [m]
    tie_m : float
        Added to a run's v: what lies level with a vertex lights it from one of two opposite
        sides, neither from both nor from none. [m]
    """

    frame: Frame
    heights_m: NDArray[np.float32]
    normals: NDArray[np.float32]
    horizons: NDArray[np.float32]
    step_u_m: float
    step_v_m: float
    tie_m: float = 0.0
