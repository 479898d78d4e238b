"""Named cameras: `front`, `seat`, `along`, and one placed by hand.

All keep the optical axis level where they look at a wall, so that uprights stay upright; the
frame is shifted instead. Surfaces are one-sided in pictures, so a camera may stand outside
the room and look in through the surface behind it.
"""

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.camera import Camera
from rakelight.scene.surfaces import Room, Surface

Floats = NDArray[np.float64]

FRAME_MM = 36.0
EYE_HEIGHT_M = 1.6  # standing; common practice, no source
SEAT_LENS_MM = (20.0, 28.0)  # a room without the stretch of a wider lens; common practice

_UP = np.array([0.0, 0.0, 1.0])


def front_camera(surface: Surface, room: Room, width_px: int, height_px: int) -> Camera:
    """Square-on, the surface filling the frame with a margin that shows what it meets.

    Parameters
    ----------
    surface : Surface
        Wall or ceiling to look at; its own v is the picture's vertical.
    room : Room
        For how far back a person could stand.
    width_px, height_px : int
        Size of the picture.

    Returns
    -------
    Camera
        Opposite the middle of the surface, no shift; the margin is 4 % of the frame or a
        little more.
    """
    frame, (low, high) = surface.frame, _extent(surface.corners_uv_m)
    aspect = width_px / height_px
    size = high - low
    across_m = max(size[0], size[1] * aspect) / 0.92  # what the frame spans on the surface
    depth = _room_points(room) - frame.origin_m
    back_m = max(float((depth @ frame.n).max()), 0.75 * across_m)
    middle = np.array([*(low + high) / 2, back_m])
    return Camera(
        name="front",
        eye_m=frame.to_room(middle),
        forward=-frame.n,
        up=frame.v,
        lens_mm=FRAME_MM * back_m / across_m,
        shift_mm=0.0,
        width_px=width_px,
        height_px=height_px,
    )


def seat_camera(surface: Surface, room: Room, width_px: int, height_px: int) -> Camera:
    """The room as a person sees it: three quarters, from 1.6 m, the whole lit surface in it.

    Parameters
    ----------
    surface : Surface
        The lit wall or ceiling.
    room : Room
        What stands around it.
    width_px, height_px : int
        Size of the picture.

    Returns
    -------
    Camera
        Level, with a vertical shift, as near as a lens of 20 to 28 mm holds the wall; where
        the room is not that deep, the eye stands behind the surface opposite.
    """
    frame, (low, high) = surface.frame, _extent(surface.corners_uv_m)
    size = high - low
    overhead = abs(frame.n @ _UP) > 0.7
    points = _room_points(room)
    if overhead:
        # stand at one end of the longer side and look along under the ceiling
        toward = frame.u if size[0] >= size[1] else frame.v
        side = np.cross(toward, _UP)
        from_m = float((points @ toward).min())
        eye = points.mean(axis=0)
        eye = eye + toward * (from_m - eye @ toward + 0.25) + side * 0.12 * np.ptp(points @ side)
        tall = FRAME_MM * height_px / width_px
        eye[2] = points[:, 2].min() + EYE_HEIGHT_M
        return Camera("seat", eye, toward, _UP.copy(), 20.0, 0.27 * tall, width_px, height_px)
    # from close up, back until the wall fits
    eye_uvn = np.array([low[0] + 0.22 * size[0], 0.0, 0.4 * size[0]])
    wall = frame.to_room(_corners(low, high))
    aim = frame.to_room(np.array([low[0] + 0.56 * size[0], 0.0, 0.0]))
    for _ in range(100):
        eye = frame.to_room(eye_uvn)
        eye[2] = points[:, 2].min() + EYE_HEIGHT_M
        forward = _level_direction(aim - eye)
        camera = _level(eye, forward, wall, width_px, height_px)
        spots = camera.pixels(wall) / [width_px, height_px]
        if spots.min() > 0.03 and spots.max() < 0.97:
            return camera
        eye_uvn[2] *= 1.05
    return camera


def along_camera(surface: Surface, room: Room, width_px: int, height_px: int) -> Camera:
    """Raking down the lit wall from one end, as someone who walks beside it sees it.

    Parameters
    ----------
    surface : Surface
        The lit wall (a ceiling is looked along from eye height).
    room : Room
        What stands around it.
    width_px, height_px : int
        Size of the picture.

    Returns
    -------
    Camera
        24 mm, level, from 1.6 m, about 1 m off the wall; more ceiling than floor where the
        ceiling is what is lit.
    """
    frame, (low, high) = surface.frame, _extent(surface.corners_uv_m)
    size = high - low
    points = _room_points(room)
    floor = points[:, 2].min()
    if abs(frame.n @ _UP) > 0.7:
        rise = 0.25
        eye = frame.to_room(np.array([low[0] + 0.06 * size[0], (low[1] + high[1]) / 2, 0.0]))
        aim = frame.to_room(np.array([high[0], (low[1] + high[1]) / 2, 0.0]))
    else:
        rise = 0.06
        off_m = min(1.0, 0.4 * max(float(frame.from_room(points)[:, 2].max()), 0.5))
        eye = frame.to_room(np.array([low[0] + 0.02 * size[0], 0.0, off_m]))
        aim = frame.to_room(np.array([high[0], 0.0, 0.25 * off_m]))
    eye[2] = floor + EYE_HEIGHT_M
    return Camera(
        name="along",
        eye_m=eye,
        forward=_level_direction(aim - eye),
        up=_UP.copy(),
        lens_mm=24.0,
        shift_mm=rise * FRAME_MM * height_px / width_px,
        width_px=width_px,
        height_px=height_px,
    )


def free_camera(
    eye_m: Floats,
    look_at_m: Floats,
    width_px: int,
    height_px: int,
    *,
    name: str = "own",
    lens_mm: float = 24.0,
    shift_mm: float | None = None,
) -> Camera:
    """A camera placed by hand.

    Parameters
    ----------
    eye_m, look_at_m : ndarray of float64, shape (3,)
        Where it stands, and what stands in the middle of the picture. [m]
    width_px, height_px : int
        Size of the picture.
    name : str
        The camera's name.
    lens_mm : float
        Focal length for a frame 36 mm wide.
    shift_mm : float, optional
        Vertical shift of the frame. Without it the camera is kept level and the shift puts
        `look_at_m` in the middle; where that takes more than the frame's own height, and
        when a shift is given, the camera tilts.

    Returns
    -------
    Camera

    Raises
    ------
    ValueError
        If the two points coincide or the lens is not above 0.
    """
    sight = np.asarray(look_at_m, np.float64) - eye_m
    distance = float(np.linalg.norm(sight))
    if not distance > 0:
        raise ValueError("eye and look_at are the same point; the camera needs a direction")
    if not lens_mm > 0:
        raise ValueError(f"lens_mm is {lens_mm}; it must be above 0")
    frame_height_mm = FRAME_MM * height_px / width_px
    flat = float(np.hypot(sight[0], sight[1]))
    level = shift_mm is None and lens_mm * abs(sight[2]) <= frame_height_mm * flat
    if level:
        forward, up = _level_direction(sight), _UP.copy()
        shift = lens_mm * float(sight[2]) / flat
    else:
        forward = sight / distance
        # looking straight up or down: the picture's top points along +y
        upright = _UP if flat > 1e-9 * distance else np.array([0.0, 1.0, 0.0])
        up = upright - (upright @ forward) * forward
        up /= np.linalg.norm(up)
        shift = shift_mm or 0.0
    eye = np.array(eye_m, np.float64)
    return Camera(name, eye, forward, up, lens_mm, shift, width_px, height_px)


def _level(
    eye: Floats,
    forward: Floats,
    wall: Floats,
    width_px: int,
    height_px: int,
) -> Camera:
    """Longest lens that holds the points, and the shift that leaves more floor than ceiling."""
    right = np.cross(forward, _UP)
    relative = wall - eye
    depth = np.maximum(relative @ forward, 0.05)
    x, y = (relative @ right) / depth, relative[:, 2] / depth
    half = FRAME_MM / 2
    tall = FRAME_MM * height_px / width_px
    fits = min(0.94 * half / np.abs(x).max(), 0.90 * tall / max(float(np.ptp(y)), 1e-6))
    lens = float(np.clip(fits, *SEAT_LENS_MM))
    spare = tall - lens * np.ptp(y)
    bottom = lens * y.min() - 0.62 * spare  # the frame's lower edge on the film
    shift = float(np.clip(bottom + tall / 2, -0.45 * tall, 0.45 * tall))
    return Camera("seat", eye, forward, _UP.copy(), lens, shift, width_px, height_px)


def _level_direction(vector: Floats) -> Floats:
    flat = vector * [1.0, 1.0, 0.0]
    out: Floats = flat / np.linalg.norm(flat)
    return out


def _extent(corners_uv_m: Floats) -> tuple[Floats, Floats]:
    return corners_uv_m.min(axis=0), corners_uv_m.max(axis=0)


def _corners(low: Floats, high: Floats) -> Floats:
    return np.array([[x, y, 0.0] for x in (low[0], high[0]) for y in (low[1], high[1])])


def _room_points(room: Room) -> Floats:
    """All corners of all surfaces."""
    return np.concatenate(
        [
            s.frame.to_room(np.column_stack([s.corners_uv_m, np.zeros(len(s.corners_uv_m))]))
            for s in room.surfaces
        ]
    )
