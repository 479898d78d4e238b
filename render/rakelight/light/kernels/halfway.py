"""Values of grid fields halfway between their vertices."""

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel


@inline
def mean_at(field, row, column):
    """Mean of the two or four vertices around a place in half steps; its own on a vertex."""
    low, up = row >> 1, (row + 1) >> 1
    left, right = column >> 1, (column + 1) >> 1
    total = field[low, left] + field[low, right] + field[up, left] + field[up, right]
    return np.float32(0.25) * total


@kernel
def halfway(fields, rows, columns, out):
    """Means of the vertices around each place, bilinear.

    fields (K, R, C) float32; rows, columns (N,) int32: the places in half steps, even ones on
    a vertex; out (K, N) float32.
    """
    for k in numba.prange(fields.shape[0]):
        for n in range(rows.size):
            out[k, n] = mean_at(fields[k], rows[n], columns[n])


@kernel
def halfway_horizons(horizons, heights, rows, columns, half_u, half_v, ways, own, out):
    """The same of horizons, but no lower than the facet that each place lies on.

    horizons (K, R, C) float32 tangents; heights (R, C) float32 [m]; half_u, half_v float32:
    half a step [m]; ways (K, 2) float32: where each horizon lies, as (u, v), v >= 0; own (N,)
    float32: the places' heights, filled too.
    """
    last_row, last_column = 2 * heights.shape[0] - 2, 2 * heights.shape[1] - 2
    count = rows.size
    slopes = np.empty((3, count), np.float32)  # toward +v, +u and -u
    for n in numba.prange(count):
        row, column = rows[n], columns[n]
        here = mean_at(heights, row, column)
        own[n] = here
        above = mean_at(heights, min(row + 1, last_row), column)
        right = mean_at(heights, row, min(column + 1, last_column))
        left = mean_at(heights, row, max(column - 1, 0))
        slopes[0, n] = (above - here) / half_v
        slopes[1, n] = (right - here) / half_u
        slopes[2, n] = (left - here) / half_u
    for k in numba.prange(horizons.shape[0]):
        side = slopes[1] if ways[k, 0] > 0 else slopes[2]
        along = abs(ways[k, 0])
        for n in range(count):
            facet = ways[k, 1] * slopes[0, n] + along * side[n]
            out[k, n] = max(mean_at(horizons[k], rows[n], columns[n]), facet)
