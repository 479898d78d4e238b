"""From triangles to the surface seen in each sample, and the place on it."""

# mypy: allow-untyped-defs
import math

import numpy as np
from numba import prange

from rakelight.light.kernels.compile import inline, kernel
from rakelight.light.kernels.deal import dealt

CHUNK = 256  # triangles whose common extent is known, so that a strip can skip them


@kernel
def project(
    points,  # float32 (k, 3): right, up, depth from the eye [m]
    window,  # float64 (3,): left and top at depth 1, step of a sample there
    near,  # least depth drawn [m]
    places,  # float32 (k, 2): out, column and row in samples; NaN nearer than `near`
):
    """Where vertices fall in the picture."""
    for i in prange(points.shape[0]):
        depth = np.float64(points[i, 2])
        if depth > near:
            places[i, 0] = (points[i, 0] / depth - window[0]) / window[2]
            places[i, 1] = (window[1] - points[i, 1] / depth) / window[2]
        else:
            places[i, 0] = np.nan
            places[i, 1] = np.nan


@inline
def bounds(points, places, window, near, a, b, c):
    """Columns and rows of the part of a triangle that is not nearer than `near`.

    Least and greatest column, then row; the least beyond the greatest where nothing is left.
    """
    box = (np.inf, -np.inf, np.inf, -np.inf)
    for k in range(3):
        one = a if k == 0 else (b if k == 1 else c)
        two = b if k == 0 else (c if k == 1 else a)
        if not math.isnan(places[one, 0]):
            x, y = np.float64(places[one, 0]), np.float64(places[one, 1])
            box = (min(box[0], x), max(box[1], x), min(box[2], y), max(box[3], y))
        if math.isnan(places[one, 0]) != math.isnan(places[two, 0]):
            depth = np.float64(points[one, 2])
            mix = (near - depth) / (points[two, 2] - depth)
            right = points[one, 0] + mix * (points[two, 0] - points[one, 0])
            up = points[one, 1] + mix * (points[two, 1] - points[one, 1])
            x = (right / near - window[0]) / window[2]
            y = (window[1] - up / near) / window[2]
            box = (min(box[0], x), max(box[1], x), min(box[2], y), max(box[3], y))
    return box


@kernel
def extents(
    points,  # float32 (k, 3)
    places,  # float32 (k, 2)
    triangles,  # int32 (m, 3)
    window,  # float64 (3,)
    near,  # [m]
    rows,  # float32 (chunks, 2): out, first and last row that a chunk can touch
):
    """Rows of each chunk of triangles."""
    for chunk in prange(rows.shape[0]):
        low = np.float32(np.inf)
        high = np.float32(-np.inf)
        for t in range(chunk * CHUNK, min((chunk + 1) * CHUNK, triangles.shape[0])):
            box = bounds(
                points, places, window, near, triangles[t, 0], triangles[t, 1], triangles[t, 2]
            )
            low = min(low, np.float32(box[2]))
            high = max(high, np.float32(box[3]))
        rows[chunk, 0] = low
        rows[chunk, 1] = high


@inline
def _owner_of(triangle, starts):
    low = 0
    high = starts.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        if starts[middle] <= triangle:
            low = middle
        else:
            high = middle
    return low


@kernel
def raster(
    points,  # float32 (k, 3): right, up, depth from the eye [m]
    on_surface,  # float32 (k, 2): u, v of each vertex [m]
    triangles,  # int32 (m, 3), counter-clockwise seen from the side that is drawn
    starts,  # int32 (owners + 1,): first triangle of each owner
    by_face,  # bool (owners,): True where u is to be the face's index within its owner
    places,  # float32 (k, 2), from `project`
    extent,  # float32 (chunks, 2), from `extents`, of the triangles from `base` on
    window,  # float64 (3,)
    near,  # [m]
    base,  # first triangle to be drawn; those before it are drawn already if it is not 0
    kept,  # float64 (rows, columns) or (0, 0): depths, out if base is 0, else in [m]
    strip_rows,  # rows drawn at once
    ids,  # int16 (rows, columns), row 0 at the top: out where one of the triangles is seen
    u,  # float32, likewise
    v,  # float32, likewise
    numbers,  # int32, likewise: the triangle
):
    """Find the nearest triangle that each sample's ray meets.

    The ray's edge functions are those of homogeneous rasterisation (Olano and Greer 1997):
    triangles that reach behind the eye need no clipping, and two that share an edge have the
    same function there but for its sign, so that no ray slips between them.
    """
    rows, columns = ids.shape
    strips = (rows + strip_rows - 1) // strip_rows
    for card in prange(strips):
        strip = dealt(card, strips)
        first = strip * strip_rows
        last = min(first + strip_rows, rows)
        depths = np.empty((last - first, columns))
        weights = np.empty((last - first, columns, 2))
        found = np.empty((last - first, columns), np.int32)
        # plain loops here and below: whole arrays would take the compiler a second more
        for row in range(last - first):
            for column in range(columns):
                depths[row, column] = kept[first + row, column] if base > 0 else np.inf
                found[row, column] = -1
        for chunk in range(extent.shape[0]):
            if extent[chunk, 1] < first - 1 or extent[chunk, 0] > last + 1:
                continue
            start = base + chunk * CHUNK
            for t in range(start, min(start + CHUNK, triangles.shape[0])):
                a = triangles[t, 0]
                b = triangles[t, 1]
                c = triangles[t, 2]
                top = first
                bottom = last - 1
                left = 0
                right = columns - 1
                box = bounds(points, places, window, near, a, b, c)
                if (
                    box[2] > last + 1
                    or box[3] < first - 1
                    or box[0] > columns + 1
                    or box[1] < -1
                    or box[0] > box[1]
                ):
                    continue
                # samples whose middle lies in its box, with a hundredth to spare for rounding
                top = max(top, math.ceil(max(box[2], -1.0) - 0.51))
                bottom = min(bottom, math.floor(min(box[3], rows + 1.0) - 0.49))
                left = max(left, math.ceil(max(box[0], -1.0) - 0.51))
                right = min(right, math.floor(min(box[1], columns + 1.0) - 0.49))
                if top > bottom or left > right:
                    continue
                ax = np.float64(points[a, 0])
                ay = np.float64(points[a, 1])
                az = np.float64(points[a, 2])
                bx = np.float64(points[b, 0])
                by = np.float64(points[b, 1])
                bz = np.float64(points[b, 2])
                cx = np.float64(points[c, 0])
                cy = np.float64(points[c, 1])
                cz = np.float64(points[c, 2])
                px = by * cz - bz * cy
                py = bz * cx - bx * cz
                pz = bx * cy - by * cx
                det = ax * px + ay * py + az * pz
                if not det > 0.0:
                    continue
                qx = cy * az - cz * ay
                qy = cz * ax - cx * az
                qz = cx * ay - cy * ax
                rx = ay * bz - az * by
                ry = az * bx - ax * bz
                rz = ax * by - ay * bx
                for row in range(top, bottom + 1):
                    up = window[1] - (row + 0.5) * window[2]
                    p0 = up * py + pz
                    q0 = up * qy + qz
                    r0 = up * ry + rz
                    for column in range(left, right + 1):
                        along = window[0] + (column + 0.5) * window[2]
                        e = along * px + p0
                        f = along * qx + q0
                        g = along * rx + r0
                        if e < 0.0 or f < 0.0 or g < 0.0:
                            continue
                        total = e + f + g
                        if not total > 0.0:
                            continue
                        depth = det / total
                        if near < depth < depths[row - first, column]:
                            depths[row - first, column] = depth
                            found[row - first, column] = t
                            weights[row - first, column, 0] = f / total
                            weights[row - first, column, 1] = g / total
        for row in range(first, last):
            for column in range(columns):
                if base == 0 and kept.size > 0:
                    kept[row, column] = depths[row - first, column]
                t = found[row - first, column]
                if t < 0:
                    continue  # as it was
                numbers[row, column] = t
                owner = _owner_of(t, starts)
                ids[row, column] = owner
                if by_face[owner]:
                    u[row, column] = t - starts[owner]
                    v[row, column] = 0.0
                    continue
                f = weights[row - first, column, 0]
                g = weights[row - first, column, 1]
                e = 1.0 - f - g
                a = triangles[t, 0]
                b = triangles[t, 1]
                c = triangles[t, 2]
                u[row, column] = e * on_surface[a, 0] + f * on_surface[b, 0] + g * on_surface[c, 0]
                v[row, column] = e * on_surface[a, 1] + f * on_surface[b, 1] + g * on_surface[c, 1]
