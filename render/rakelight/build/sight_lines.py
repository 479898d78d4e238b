"""Whether a straight line between two places meets what stands in the room."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rakelight.scene.surfaces import Body, Surface

Floats = NDArray[np.float64]

#: Ends of a line this near to a face do not count as met by it. [share of the line]
_ENDS = 1e-6


def blocked(
    starts_m: Floats, ends_m: Floats, faces: Sequence[Surface], bodies: Sequence[Body] = ()
) -> NDArray[np.bool_]:
    """Whether lines meet a face that shades, or a body, on their way.

    Parameters
    ----------
    starts_m, ends_m : ndarray of float64, shape (k, 3)
        [m]
    faces : sequence of Surface
        Only those with `blocks` count.
    bodies : sequence of Body
        Meshes.

    Returns
    -------
    ndarray of bool, shape (k,)
    """
    hit = np.zeros(len(starts_m), np.bool_)
    for face in faces:
        if not face.blocks:
            continue
        a, b = face.frame.from_room(starts_m), face.frame.from_room(ends_m)
        step = b[:, 2] - a[:, 2]
        with np.errstate(divide="ignore", invalid="ignore"):
            t = -a[:, 2] / step
            at = a[:, :2] + t[:, None] * (b[:, :2] - a[:, :2])
        crosses = np.isfinite(t) & (t > _ENDS) & (t < 1 - _ENDS)
        if not crosses.any():
            continue
        inside = np.zeros(len(hit), np.bool_)
        inside[crosses] = within(at[crosses], face.corners_uv_m)
        hit |= inside
    for body in bodies:
        for triangle in body.points_m[body.faces]:
            hit |= _through(starts_m, ends_m, triangle)
    return hit


def within(points: Floats, polygon: Floats) -> NDArray[np.bool_]:
    """Whether points, shape (k, 2), lie in a simple polygon."""
    inside = np.zeros(len(points), np.bool_)
    for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        if a[1] == b[1]:
            continue
        rows = (points[:, 1] >= min(a[1], b[1])) & (points[:, 1] < max(a[1], b[1]))
        cut = a[0] + (b[0] - a[0]) * (points[:, 1] - a[1]) / (b[1] - a[1])
        inside ^= rows & (points[:, 0] < cut)
    return inside


def _through(starts: Floats, ends: Floats, triangle: Floats) -> NDArray[np.bool_]:
    """Lines through a triangle (T. Moeller and B. Trumbore, 1997, from memory)."""
    ray = ends - starts
    one, two = triangle[1] - triangle[0], triangle[2] - triangle[0]
    p = np.cross(ray, two)
    det = p @ one
    with np.errstate(divide="ignore", invalid="ignore"):
        from_corner = starts - triangle[0]
        u = np.einsum("ij,ij->i", from_corner, p) / det
        q = np.cross(from_corner, one)
        v = np.einsum("ij,ij->i", ray, q) / det
        t = (q @ two) / det
        out: NDArray[np.bool_] = (
            (np.abs(det) > 1e-15) & (u >= 0) & (v >= 0) & (u + v <= 1) & (t > _ENDS) & (t < 1)
        )
    return out
