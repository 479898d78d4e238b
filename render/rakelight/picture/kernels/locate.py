"""From the triangle seen in each sample to the surface and the place on it."""

# mypy: allow-untyped-defs
import numpy as np
from numba import prange

from rakelight.light.kernels.compile import kernel


@kernel
def locate(
    seen,  # uint8 (rows, columns, 3): 1 + triangle, lowest byte first, row 0 at the bottom
    points,  # float32 (k, 3): vertices as right, up, depth from the eye [m]
    places,  # float32 (k, 2): u, v of each vertex [m]
    triangles,  # int32 (m, 3)
    starts,  # int32 (owners + 1,): first triangle of each owner
    by_face,  # bool (owners,): True where u is to be the face's index within its owner
    window,  # float64 (4,): left, top, step right, step down at depth 1
    ids,  # int16 (rows, columns), row 0 at the top: out, -1 where nothing is seen
    u,  # float32, out
    v,  # float32, out
    numbers,  # int32: out, the triangle, -1 where nothing is seen
):
    """Meet each sample's ray with the plane of its triangle, in double precision."""
    rows, columns = ids.shape
    owners = by_face.size
    for row in prange(rows):
        below = rows - 1 - row
        ry = window[1] - (row + 0.5) * window[3]
        for column in range(columns):
            triangle = (
                np.int64(seen[below, column, 0])
                + 256 * np.int64(seen[below, column, 1])
                + 65536 * np.int64(seen[below, column, 2])
                - 1
            )
            numbers[row, column] = triangle
            if triangle < 0:
                ids[row, column] = -1
                u[row, column] = 0.0
                v[row, column] = 0.0
                continue
            low = 0
            high = owners
            while high - low > 1:
                middle = (low + high) // 2
                if starts[middle] <= triangle:
                    low = middle
                else:
                    high = middle
            ids[row, column] = low
            if by_face[low]:
                u[row, column] = triangle - starts[low]
                v[row, column] = 0.0
                continue
            rx = window[0] + (column + 0.5) * window[2]
            a = triangles[triangle, 0]
            b = triangles[triangle, 1]
            c = triangles[triangle, 2]
            ax = np.float64(points[a, 0])
            ay = np.float64(points[a, 1])
            az = np.float64(points[a, 2])
            ex = points[b, 0] - ax
            ey = points[b, 1] - ay
            ez = points[b, 2] - az
            fx = points[c, 0] - ax
            fy = points[c, 1] - ay
            fz = points[c, 2] - az
            # Moeller and Trumbore 1997, ray from the origin along (rx, ry, 1)
            px = ry * fz - fy
            py = fx - rx * fz
            pz = rx * fy - ry * fx
            det = ex * px + ey * py + ez * pz
            s = 0.0
            t = 0.0
            if det != 0.0:
                s = -(ax * px + ay * py + az * pz) / det
                qx = -(ay * ez - az * ey)
                qy = -(az * ex - ax * ez)
                qz = -(ax * ey - ay * ex)
                t = (rx * qx + ry * qy + qz) / det
            # the rasteriser's coverage is finer than a sample but not exact: stay inside
            s = min(max(s, 0.0), 1.0)
            t = min(max(t, 0.0), 1.0 - s)
            r = 1.0 - s - t
            u[row, column] = r * places[a, 0] + s * places[b, 0] + t * places[c, 0]
            v[row, column] = r * places[a, 1] + s * places[b, 1] + t * places[c, 1]
