"""How much of a pixel each owner covers, where several meet."""

# mypy: allow-untyped-defs
import numpy as np
from numba import prange

from rakelight.light.kernels.compile import inline, kernel
from rakelight.light.kernels.deal import dealt

OWNERS = 4  # most that are told apart in one pixel
FINE = 8  # rays along each side of a pixel
CANDIDATES = 64
BLOCK = 32  # pixels done by one task


@kernel
def find_edges(
    ids,  # int16 (rows x s, columns x s)
    s,
    edge,  # bool (rows, columns): out
):
    """Mark pixels whose samples, or the ring of samples around them, differ in owner."""
    rows, columns = ids.shape
    for card in prange(edge.shape[0]):
        row = dealt(card, edge.shape[0])
        for column in range(edge.shape[1]):
            owner = ids[row * s, column * s]
            several = False
            for i in range(max(row * s - 1, 0), min((row + 1) * s + 1, rows)):
                for j in range(max(column * s - 1, 0), min((column + 1) * s + 1, columns)):
                    if ids[i, j] != owner:
                        several = True
            edge[row, column] = several


@inline
def _depth(points, a, b, c, rx, ry):
    """Depth at which the ray (rx, ry, 1) meets a triangle; a negative value if it does not."""
    ax = np.float64(points[a, 0])
    ay = np.float64(points[a, 1])
    az = np.float64(points[a, 2])
    ex = points[b, 0] - ax
    ey = points[b, 1] - ay
    ez = points[b, 2] - az
    fx = points[c, 0] - ax
    fy = points[c, 1] - ay
    fz = points[c, 2] - az
    px = ry * fz - fy
    py = fx - rx * fz
    pz = rx * fy - ry * fx
    det = ex * px + ey * py + ez * pz
    if det == 0.0:
        return -1.0
    s = -(ax * px + ay * py + az * pz) / det
    qx = -(ay * ez - az * ey)
    qy = -(az * ex - ax * ez)
    qz = -(ax * ey - ay * ex)
    t = (rx * qx + ry * qy + qz) / det
    if s < 0.0 or t < 0.0 or s + t > 1.0:
        return -1.0
    return (fx * qx + fy * qy + fz * qz) / det


@kernel
def cover(
    seen,  # int32 (rows x s, columns x s): triangle of each sample, -1 for none
    ids,  # int16, same shape
    s,
    pixels,  # int64 (k,): flat indices
    columns,  # pixels in a row
    points,  # float32 (m, 3): right, up, depth
    triangles,  # int32 (n, 3)
    window,  # float64 (4,): left, top, step of a sample to the right and down, at depth 1
    owners,  # int16 (k, OWNERS): out, -2 where unused
    shares,  # float32 (k, OWNERS): out, sum 1
):
    """Cast fine rays at the triangles that the samples in and around a pixel see."""
    height, width = ids.shape
    blocks = (pixels.size + BLOCK - 1) // BLOCK
    for card in prange(blocks):
        block = dealt(card, blocks)
        found = np.empty(CANDIDATES, np.int64)
        whose = np.empty(CANDIDATES, np.int16)
        for p in range(block * BLOCK, min((block + 1) * BLOCK, pixels.size)):
            row = pixels[p] // columns
            column = pixels[p] % columns
            top = max((row - 1) * s, 0)
            bottom = min((row + 2) * s, height)
            left = max((column - 1) * s, 0)
            right = min((column + 2) * s, width)
            count = 0
            for k in range(OWNERS):
                owners[p, k] = -2
                shares[p, k] = 0.0
            for i in range(top, bottom):
                for j in range(left, right):
                    triangle = seen[i, j]
                    known = triangle < 0
                    for q in range(count):
                        if found[q] == triangle:
                            known = True
                            break
                    if not known and count < CANDIDATES:
                        found[count] = triangle
                        whose[count] = ids[i, j]
                        count += 1
            for a in range(FINE):
                for b in range(FINE):
                    y = row * s + (a + 0.5) * s / FINE
                    x = column * s + (b + 0.5) * s / FINE
                    rx = window[0] + x * window[2]
                    ry = window[1] - y * window[3]
                    nearest = np.inf
                    owner = np.int16(-2)
                    for q in range(count):
                        t = found[q]
                        depth = _depth(
                            points, triangles[t, 0], triangles[t, 1], triangles[t, 2], rx, ry
                        )
                        if 0.0 < depth < nearest:
                            nearest = depth
                            owner = whose[q]
                    if owner == -2:  # no triangle known there: as the nearest sample has it
                        owner = ids[int(y), int(x)]
                    for k in range(OWNERS):
                        if owners[p, k] == owner or owners[p, k] == -2:
                            owners[p, k] = owner
                            shares[p, k] += np.float32(1.0)
                            break
                    else:
                        shares[p, 0] += np.float32(1.0)
            for k in range(OWNERS):
                shares[p, k] /= FINE * FINE
