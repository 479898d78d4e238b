"""The room's shell: walls, floor, and a ceiling that is level or pitched.

Plan, seen from above; the origin is the floor corner at the lower left:

    y ^  +------ main ------+      every wall's u runs to the right for someone who stands
      |  |                  |      in the room and faces it; v is up; n points inward
      | left              right
      |  |                  |
      o  +---- opposite ----+
      o------> x
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.frame import Frame
from rakelight.scene.tables import RoomTable

Floats = NDArray[np.float64]

FACING = {"main": "opposite", "opposite": "main", "left": "right", "right": "left"}
#: The wall that follows each one at its right end, for someone who faces it.
NEXT = {"main": "right", "right": "opposite", "opposite": "left", "left": "main"}
CEILINGS = ("ceiling", "ceiling far")

_X, _Y, _Z = np.eye(3)


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """One surface of the shell.

    Parameters
    ----------
    frame : Frame
        u right, v up, n inward; origin at the lower left of the bounding rectangle.
    width_m, height_m : float
        Of the bounding rectangle. [m]
    corners_uv_m : ndarray of float64, shape (k, 2)
        Counter-clockwise. [m]
    """

    frame: Frame
    width_m: float
    height_m: float
    corners_uv_m: Floats


def wall_frames(room: RoomTable) -> dict[str, tuple[Frame, float]]:
    """Frame and width of each wall, and of the floor."""
    w, d = room.width_m, room.depth_m
    return {
        "main": (Frame(np.array([0, d, 0.0]), _X, _Z, -_Y), w),
        "opposite": (Frame(np.array([w, 0, 0.0]), -_X, _Z, _Y), w),
        "left": (Frame(np.array([0, 0, 0.0]), _Y, _Z, _X), d),
        "right": (Frame(np.array([w, d, 0.0]), -_Y, _Z, -_X), d),
    }


def across_m(room: RoomTable, wall: str) -> float:
    """From a wall to the one opposite it. [m]"""
    return room.depth_m if wall in ("main", "opposite") else room.width_m


def pitch(room: RoomTable) -> tuple[str, Floats]:
    """The wall that the ceiling rises from, and (distance from it, height), shape (2 or 3, 2).

    Raises
    ------
    ValueError
        If the ceiling would fold inward, or its ridge lies outside the room.
    """
    table = room.ceiling
    if table is None:
        depth = room.depth_m
        return "main", np.array([[0.0, room.height_m], [depth, room.height_m]])
    depth = across_m(room, table.rises_from)
    far = room.height_m if table.far_m is None else table.far_m
    if table.ridge_m is None:
        return table.rises_from, np.array([[0.0, room.height_m], [depth, far]])
    at = depth / 2 if table.ridge_at_m is None else table.ridge_at_m
    if not at < depth:
        raise ValueError("ridge_at")
    if table.ridge_m < room.height_m + (far - room.height_m) * at / depth + 1e-6:
        raise ValueError("ridge")
    return table.rises_from, np.array([[0.0, room.height_m], [at, table.ridge_m], [depth, far]])


def ceiling_height_m(room: RoomTable, points_m: Floats) -> Floats:
    """Height of the ceiling over places on the plan, shape (..., 2 or 3) to (...). [m]"""
    wall, profile = pitch(room)
    frame = wall_frames(room)[wall][0]
    flat = np.zeros((*points_m.shape[:-1], 3))
    flat[..., :2] = points_m[..., :2]
    out: Floats = np.interp(frame.from_room(flat)[..., 2], profile[:, 0], profile[:, 1])
    return out


def shell(room: RoomTable) -> dict[str, Plane]:
    """Every surface of the shell by name: four walls, floor, and one or two ceilings.

    Raises
    ------
    ValueError
        As `pitch`.
    """
    from_wall, profile = pitch(room)
    planes: dict[str, Plane] = {}
    for name, (frame, width) in wall_frames(room).items():
        ends = np.array([[0.0, 0.0, 0.0], [width, 0.0, 0.0]])
        corners = [[0.0, 0.0], [width, 0.0]]
        if name in (from_wall, FACING[from_wall]):
            top = float(ceiling_height_m(room, frame.to_room(ends[:1]))[0])
            corners += [[width, top], [0.0, top]]
        else:
            # a gable: its top follows the ceiling's profile, from right to left
            to_left = NEXT[from_wall] != name
            profile_u = profile[:, 0] if not to_left else width - profile[:, 0]
            order = np.argsort(-profile_u)
            corners += [[float(profile_u[i]), float(profile[i, 1])] for i in order]
        polygon = np.array(corners, np.float64)
        planes[name] = Plane(frame, width, float(polygon[:, 1].max()), polygon)
    w, d = room.width_m, room.depth_m
    planes["floor"] = Plane(Frame(np.zeros(3), _X, _Y, _Z), w, d, _rectangle(w, d))
    frame, width = wall_frames(room)[from_wall]
    for name, (near, far) in zip(CEILINGS, itertools.pairwise(profile), strict=False):
        start = frame.to_room(np.array([0.0, near[1], near[0]]))
        up = frame.to_room(np.array([0.0, far[1], far[0]])) - start
        length = float(np.linalg.norm(up))
        v = up / length
        # profile coordinates are exact, so a level ceiling's frame is too
        planes[name] = Plane(
            Frame(start, frame.u, v, np.cross(frame.u, v)), width, length, _rectangle(width, length)
        )
    return planes


def _rectangle(width: float, height: float) -> Floats:
    return np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
