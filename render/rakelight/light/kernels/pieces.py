"""A relief's surface in pieces: blocks of cells, cut by height, and samples of what they hold.

The surface is the grid's triangulation, cells cut from their lower left to their upper right
vertex. It is sampled inside the cells, densely where they are steep: a mesh has no vertices
half way down a joint one cell wide, and its ends alone would make hollows 7 % too bright.
"""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel

F0 = np.float32(0.0)
F1 = np.float32(1.0)
HALF = np.float32(0.5)
#: Without a sign: an index that cannot be negative needs no check for counting from the end.
ONE = np.uint64(1)

#: Pieces that one block is cut into by height, and samples along a cell's side, at most.
MOST_BINS = 8


@quick
def floor(x):
    """Whole number below a float32, in place: `math.floor` of one is a call to a library."""
    below = np.int64(x)
    return below - np.int64(x < np.float32(below))


@quick
def bin_of(height, low, high, bins):
    """Piece of its block that a point of this height belongs to."""
    if bins <= 1:
        return 0
    place = int((height - low) / (high - low) * np.float32(bins))
    return max(0, min(bins - 1, place))


@quick
def height_at(heights, r, c, f, g):
    """Height at fractions f up and g right of the cell whose lower left vertex is (r, c)."""
    # no branch: which triangle it is no processor can foresee
    row, column, side = np.uint64(r), np.uint64(c), np.uint64(g > f)
    low, far = heights[row, column], heights[row + ONE, column + ONE]
    between = heights[row + ONE - side, column + side]
    return low + max(f, g) * (between - low) + min(f, g) * (far - between)


@quick
def samples_along(heights, r, c, steep):
    """Samples along each side of a cell: one for each `steep` of its height range."""
    a, b = heights[r, c], heights[r, c + 1]
    d, e = heights[r + 1, c], heights[r + 1, c + 1]
    rise = max(a, b, d, e) - min(a, b, d, e)
    return max(1, min(MOST_BINS, -floor(-rise / steep)))


@quick
def whole_cell(mask, r, c):
    """Whether all corners of a cell are on the relief."""
    return mask[r, c] and mask[r, c + 1] and mask[r + 1, c] and mask[r + 1, c + 1]


@quick_kernel
def measure_blocks(heights, mask, size, steep, low, high, bins):
    """Height range of blocks of size x size cells, and into how many pieces each is cut.

    heights (R, C) float32 [m]; mask (R, C) bool; size int32; steep float32 [m]: height of one
    piece; filled: low, high (BR, BC) float32 [m], bins (BR, BC) int32, 0 where nothing is.
    """
    rows, columns = heights.shape
    for i in numba.prange(bins.shape[0]):
        for j in range(bins.shape[1]):
            least = np.float32(1e9)
            most = np.float32(-1e9)
            for r in range(i * size, min(rows - 1, (i + 1) * size)):
                for c in range(j * size, min(columns - 1, (j + 1) * size)):
                    if whole_cell(mask, r, c):
                        for k in range(4):
                            h = heights[r + (k >> 1), c + (k & 1)]
                            least = min(least, h)
                            most = max(most, h)
            low[i, j] = least
            high[i, j] = most
            bins[i, j] = 0
            if most >= least:
                bins[i, j] = max(1, min(MOST_BINS, math.ceil((most - least) / steep)))


@quick
def sample_block(
    heights, mask, size, steep, steps, i, j, low, high, bins, place, facing, piece
):  # fmt: skip
    """Sample the surface of one block; returns how many samples there are.

    place (M, 4): row, column (with fractions), height [m], area [m2]; facing (M, 3): unit
    normal; piece (M,): which of the block's pieces.
    """
    rows, columns = heights.shape
    count = 0
    for r in range(i * size, min(rows - 1, (i + 1) * size)):
        for c in range(j * size, min(columns - 1, (j + 1) * size)):
            if not whole_cell(mask, r, c):
                continue
            n = samples_along(heights, r, c, steep)
            for y in range(n):
                for x in range(n):
                    f = (np.float32(y) + HALF) / np.float32(n)
                    # off the diagonal, by turns to either side: both triangles count
                    g = (np.float32(x) + HALF) / np.float32(n)
                    off = np.float32(0.1) / np.float32(n)
                    g += off if (x + y + r + c) & 1 else -off
                    if g > f:
                        slope_u = heights[r, c + 1] - heights[r, c]
                        slope_v = heights[r + 1, c + 1] - heights[r, c + 1]
                    else:
                        slope_u = heights[r + 1, c + 1] - heights[r + 1, c]
                        slope_v = heights[r + 1, c] - heights[r, c]
                    slope_u /= steps[0]
                    slope_v /= steps[1]
                    long = np.float32(math.sqrt(F1 + slope_u * slope_u + slope_v * slope_v))
                    h = height_at(heights, r, c, f, g)
                    place[count, 0] = np.float32(r) + f
                    place[count, 1] = np.float32(c) + g
                    place[count, 2] = h
                    place[count, 3] = steps[0] * steps[1] * long / np.float32(n * n)
                    facing[count, 0] = -slope_u / long
                    facing[count, 1] = -slope_v / long
                    facing[count, 2] = F1 / long
                    piece[count] = bin_of(h, low, high, bins)
                    count += 1
    return count


@quick_kernel
def piece_means(heights, mask, size, steep, steps, low, high, bins, first, field, out):
    """Means of a vertex field over the pieces, weighted by true area.

    heights .. first as `hollows.link_pieces`; field (B, R, C) float32, linear within each
    triangle; out (N, B) float32.
    """
    room = size * size * MOST_BINS * MOST_BINS
    bands = field.shape[0]
    for i in numba.prange(bins.shape[0]):
        place = np.empty((room, 4), np.float32)
        facing = np.empty((room, 3), np.float32)
        piece = np.empty(room, np.int32)
        whole = np.empty(MOST_BINS, np.float32)
        for j in range(bins.shape[1]):
            if bins[i, j] == 0:
                continue
            count = sample_block(
                heights, mask, size, steep, steps, i, j, low[i, j], high[i, j], bins[i, j],
                place, facing, piece,
            )  # fmt: skip
            whole[:] = F0
            for b in range(bins[i, j]):
                for k in range(bands):
                    out[first[i, j] + b, k] = F0
            for m in range(count):
                r = int(place[m, 0])
                c = int(place[m, 1])
                f = place[m, 0] - np.float32(r)
                g = place[m, 1] - np.float32(c)
                whole[piece[m]] += place[m, 3]
                n = first[i, j] + piece[m]
                for k in range(bands):
                    a, d = field[k, r, c], field[k, r + 1, c + 1]
                    if g > f:
                        right = field[k, r, c + 1]
                        value = a + g * (right - a) + f * (d - right)
                    else:
                        up = field[k, r + 1, c]
                        value = a + f * (up - a) + g * (d - up)
                    out[n, k] += place[m, 3] * value
            for b in range(bins[i, j]):
                if whole[b] > F0:
                    for k in range(bands):
                        out[first[i, j] + b, k] /= whole[b]
