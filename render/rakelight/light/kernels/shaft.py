"""Which faces can come between a tile of a surface and a run: separating directions."""

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel

#: Faces that touch the shaft by less than this do not count. [m]
SLACK = 1e-6


@inline
def separates(way_x, way_y, way_z, hull, face):
    """Whether a direction has all of `face` on one side of all of `hull`."""
    low = 1e30
    high = -1e30
    for i in range(hull.shape[0]):
        at = way_x * hull[i, 0] + way_y * hull[i, 1] + way_z * hull[i, 2]
        low = min(low, at)
        high = max(high, at)
    least = 1e30
    most = -1e30
    for i in range(face.shape[0]):
        at = way_x * face[i, 0] + way_y * face[i, 1] + way_z * face[i, 2]
        least = min(least, at)
        most = max(most, at)
    size = (way_x * way_x + way_y * way_y + way_z * way_z) ** 0.5
    return least > high - SLACK * size or most < low + SLACK * size


@kernel
def mark_shafts(boxes, opening, faces, normals, axes, marked):
    """Mark the faces that may stand between a tile's box and the opening.

    boxes (T, 8, 3), opening (4, 3): corners; faces (F, 4, 3), normals (F, 3); axes (6, 3):
    directions to try first; all float64 in the run's frame (axis, nadir, across); marked
    (T, F) bool. The shaft is the convex hull of box and opening. A direction that has a face on
    one side of it proves the face harmless; besides `axes` and the face's normal, the
    directions across every pair of a box's and the opening's corner are tried in the three
    planes of the run's frame. What stays marked may still be harmless: it only costs time.
    """
    for t in numba.prange(boxes.shape[0]):
        hull = np.empty((12, 3))
        hull[:8] = boxes[t]
        hull[8:] = opening
        for f in range(faces.shape[0]):
            face = faces[f]
            apart = separates(normals[f, 0], normals[f, 1], normals[f, 2], hull, face)
            for a in range(axes.shape[0]):
                if apart:
                    break
                apart = separates(axes[a, 0], axes[a, 1], axes[a, 2], hull, face)
            for i in range(8):
                if apart:
                    break
                for j in range(8, 12):
                    x = hull[j, 0] - hull[i, 0]
                    y = hull[j, 1] - hull[i, 1]
                    z = hull[j, 2] - hull[i, 2]
                    if (
                        separates(0.0, -z, y, hull, face)
                        or separates(-y, x, 0.0, hull, face)
                        or separates(-z, 0.0, x, hull, face)
                    ):
                        apart = True
                        break
            marked[t, f] = not apart
