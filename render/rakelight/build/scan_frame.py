"""How a scanned sample lies: which side faces the viewer, where up is, and its plane."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rakelight.build.kernels.cells import front_heights

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_SAMPLE = 300_000  # triangles from which plane and side are judged
_COARSE = 400  # cells along the longer side of the grid that the plane is fitted to


@dataclass(frozen=True, slots=True, eq=False)
class ScanFrame:
    """Axes of a sample: columns u (right), v (up), n (toward the viewer); u x v = n.

    Parameters
    ----------
    axes : ndarray of float64, shape (3, 3)
        Rows u, v and n, in the mesh's coordinates.
    outward : float
        1 if the mesh's winding faces the viewer, else -1.
    sided : float
        How clearly one side is its outside: 1 an open sheet, 0 closed or of mixed winding.
    notes : tuple of str
        What had to be guessed.
    """

    axes: Floats
    outward: float
    sided: float
    notes: tuple[str, ...]


def scan_frame(
    points_m: Floats, faces: Indices, front: Floats | None = None, turn_rad: float = 0.0
) -> ScanFrame:
    """Find a sample's frame and level it.

    Parameters
    ----------
    points_m : ndarray of float64, shape (n, 3)
        z up. [m]
    faces : ndarray of int64, shape (m, 3)
        Triangles.
    front : ndarray of float64, shape (3,), optional
        Roughly toward the viewer. Not given: across the sample's flattest extent, on the side
        that its winding calls the outside.
    turn_rad : float
        Turn of the sample in its plane, counter-clockwise for the viewer. [rad]

    Raises
    ------
    ValueError
        If the sample is a line, or as thick as it is wide and `front` is not given.

    Notes
    -----
    The plane is fitted to the front as seen, not to all points: a solid sample's rear and
    sides must not pull on it. Huber's weights (P. J. Huber, 1964, from memory) keep deep joints
    and single spikes from tilting it.
    """
    notes: list[str] = []
    some = faces[:: max(1, len(faces) // _SAMPLE)]
    a, b, c = (points_m[some[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a) / 2
    area = np.linalg.norm(normals, axis=1)
    if not area.sum() > 0:
        raise ValueError("degenerate: no triangle has an area")
    middle = (a + b + c) / 3
    centre = (area[:, None] * middle).sum(axis=0) / area.sum()
    # exact second moments: twelfths of the corners' and nine twelfths of the middles'
    spread = 9 * ((middle - centre) * area[:, None]).T @ (middle - centre)
    for corner in (a, b, c):
        spread += ((corner - centre) * area[:, None]).T @ (corner - centre)
    squares, directions = np.linalg.eigh(spread / (12 * area.sum()))
    sizes = np.sqrt(np.maximum(squares, 0))
    if sizes[1] < 1e-4 * sizes[2]:
        raise ValueError("degenerate: the sample is a line; a relief has width and height")
    if front is None:
        if sizes[0] > 0.7 * sizes[1]:
            raise ValueError(
                "the sample is about as thick as it is wide, so its front cannot be told; "
                "state it with --front"
            )
        normal = directions[:, 0]
    else:
        normal = np.asarray(front, dtype=np.float64) / np.linalg.norm(front)
    along = normals @ normal
    sided = float(along.sum() / max(float(np.abs(along).sum()), 1e-300))
    if front is None and abs(sided) < 0.2:
        axis = 2 if abs(normal[2]) > 0.7 else (1 if abs(normal[1]) > abs(normal[0]) else 0)
        normal = normal * (1.0 if (normal[axis] > 0) == (axis != 1) else -1.0)
        notes.append(
            "closed, or wound both ways: which side is the front cannot be told; the one "
            f"toward {'-y' if axis == 1 else '+' + 'xyz'[axis]} (z up) was taken. "
            "Use --front to turn it"
        )
    elif front is None and sided < 0:
        normal = -normal
    outward = -1.0 if abs(sided) >= 0.2 and float(normals.sum(axis=0) @ normal) < 0 else 1.0
    up = np.array([0.0, 0.0, 1.0])
    if abs(normal[2]) > 0.9:
        up = np.array([0.0, 1.0, 0.0])
        notes.append("the sample lies flat: its y axis was taken as up on the wall (--turn turns)")
    axes = _axes(normal, up, turn_rad)
    for _ in range(4):
        tilt_u, tilt_v = _tilt(points_m, faces, axes)
        normal = axes[2] - tilt_u * axes[0] - tilt_v * axes[1]
        axes = _axes(normal, up, turn_rad)
        if math.hypot(tilt_u, tilt_v) < 1e-5:
            break
    return ScanFrame(axes, outward, abs(sided), tuple(notes))


def outline_turn_rad(u_m: Floats, v_m: Floats) -> tuple[float, float]:
    """Turn of the smallest rectangle around points, and how much of it their hull fills.

    Parameters
    ----------
    u_m, v_m : ndarray of float64, shape (n,)
        [m]

    Returns
    -------
    turn_rad : float
        -pi/4 to pi/4. [rad]
    filled : float
        0 to 1.
    """
    from scipy.spatial import ConvexHull, QhullError

    try:
        hull = ConvexHull(np.stack([u_m, v_m], axis=1))
    except QhullError:
        return 0.0, 0.0
    corners = hull.points[hull.vertices]
    edges = np.roll(corners, -1, axis=0) - corners
    turns = np.unique(np.round(np.mod(np.arctan2(edges[:, 1], edges[:, 0]), np.pi / 2), 9))
    sizes = []
    for turn in turns:
        cos, sin = math.cos(turn), math.sin(turn)
        turned = corners @ np.array([[cos, -sin], [sin, cos]])
        sizes.append(float(np.prod(np.ptp(turned, axis=0))))
    best = int(np.argmin(sizes))
    turn = float(turns[best])
    filled = float(hull.volume) / sizes[best] if sizes[best] > 0 else 0.0
    return (turn if turn <= math.pi / 4 else turn - math.pi / 2), filled


def _axes(normal: Floats, up: Floats, turn_rad: float) -> Floats:
    n = normal / np.linalg.norm(normal)
    v = up - (up @ n) * n
    v /= np.linalg.norm(v)
    u = np.cross(v, n)
    # the sample turns counter-clockwise, so the axes turn clockwise under it
    cos, sin = math.cos(turn_rad), math.sin(turn_rad)
    return np.stack([cos * u - sin * v, sin * u + cos * v, n])


def _tilt(points_m: Floats, faces: Indices, axes: Floats) -> tuple[float, float]:
    """Slopes of the front's plane along u and v, from a coarse look at it."""
    placed = points_m @ axes.T
    low = placed.min(axis=0)
    size = np.ptp(placed[:, :2], axis=0)
    step = float(size.max()) / _COARSE
    placed -= low
    placed[:, :2] /= step
    columns, rows = (max(1, math.ceil(float(s) / step)) for s in size)
    heights = np.full((rows, columns), -np.inf, dtype=np.float32)
    front_heights(placed.astype(np.float32), faces.astype(np.int32), heights)
    seen = np.isfinite(heights)
    inner = seen.copy()  # the rim may show a solid sample's sides
    for _ in range(2):
        inner[1:-1, 1:-1] &= inner[:-2, 1:-1] & inner[2:, 1:-1] & inner[1:-1, :-2] & inner[1:-1, 2:]
    used = inner if int(inner.sum()) >= 0.5 * int(seen.sum()) else seen
    row, column = np.nonzero(used)
    if row.size < 3:
        return 0.0, 0.0
    h = heights[used].astype(np.float64)
    terms = np.stack([(column + 0.5) * step, (row + 0.5) * step, np.ones(row.size)], axis=1)
    weight = np.ones(row.size)
    plane: Floats = np.zeros(3)
    for _ in range(30):
        before = plane
        normal_matrix = (terms * weight[:, None]).T @ terms
        plane = np.asarray(
            np.linalg.lstsq(normal_matrix, terms.T @ (weight * h), rcond=None)[0], np.float64
        )
        rest = np.abs(h - terms @ plane)
        limit = 1.345 * 1.4826 * float(np.median(rest))
        if limit <= 0 or np.abs(plane - before)[:2].max() < 1e-8:
            break
        weight = np.minimum(1.0, limit / np.maximum(rest, 1e-300))
    return float(plane[0]), float(plane[1])
