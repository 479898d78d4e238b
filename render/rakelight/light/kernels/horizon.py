"""Horizons of a height field along one azimuth: one pass with an upper convex hull as a stack."""

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel

#: Horizon where nothing stands between a vertex and the border: any source clears it.
OPEN = np.float32(-1e3)


@inline
def march(field, falling, slope, per_metre, hull_at, hull_h, out):
    """Horizons of one azimuth along the second axis of `field`; see `sheared_horizons`."""
    width, count = field.shape
    reach = np.float32(slope * (count - 1))
    first = int(np.floor(min(np.float32(0.0), reach)))
    last = int(np.ceil(width - 1 + max(np.float32(0.0), reach)))
    for line in range(first, last + 1):
        # the line crosses minor = `line` at the source's border, and shifts by -slope a step
        top = -1
        start, stop = 0, count
        if slope != 0.0:  # only where the line crosses the field, a step to spare
            enter = (np.float32(line) - np.float32(width - 1)) / slope
            leave = np.float32(line) / slope
            start = max(0, int(np.floor(min(enter, leave))))
            stop = min(count, int(np.ceil(max(enter, leave))) + 1)
        for i in range(start, stop):
            x = np.float32(line) - slope * np.float32(i)
            cell = int(np.floor(x))
            f = x - np.float32(cell)
            if cell < 0 or cell > width - 1 or (cell == width - 1 and f > 0.0):
                continue
            m = count - 1 - i if falling else i
            near = field[cell, m]
            own = near
            if f > 0.0:
                own = near + f * (field[cell + 1, m] - near)
            # hide what this sample stands in front of; what is left on top is its horizon
            while top > 0:  # is the top one lower, seen from here, than the one behind?
                rise = (hull_h[top] - own) * np.float32(i - hull_at[top - 1])
                if rise > (hull_h[top - 1] - own) * np.float32(i - hull_at[top]):
                    break
                top -= 1
            tangent = OPEN
            if top >= 0:
                tangent = (hull_h[top] - own) / np.float32(i - hull_at[top]) * per_metre
            top += 1
            hull_at[top] = i
            hull_h[top] = own
            # hand it to the nearest vertex; at the borders, where that line has no neighbour,
            # to both
            if f < 0.5 or cell == 0:
                out[cell, m] = tangent
            if f >= 0.5 or (f > 0.0 and cell + 1 == width - 1):
                out[cell + 1, m] = tangent


@kernel
def sheared_horizons(heights, turned, major, shift, step, out):
    """Horizon tangents of every vertex along K azimuths.

    For azimuth k, lines march over the axis `major[k]` (0: along rows, the source lies at
    higher rows; 1: along columns, source at higher columns; 2: along columns, source at
    lower columns; 3: along rows, source at lower rows), shifted by `shift[k]` cells of the
    other axis a step toward the source. Neighbouring lines are one cell apart; a vertex lies
    between two of them and takes the mean of both horizons, weighted by nearness. Each is seen
    from its own line's surface, not from the vertex's height: mixed heights would add a bias
    on slopes across the azimuth (tried: +0.015 in the tangent on rough stone).

    heights (R, C) float32 [m]; turned (C, R) float32: its transpose, in memory too, because a
    march across memory rows is several times slower; major (K,) int32; shift (K,) float32
    [cells/step]; step (K,) float32: plan distance of one step [m]; out (K, R, C) float32,
    zeros: tangent of the horizon's elevation.
    """
    rows, columns = heights.shape
    for k in numba.prange(major.size):
        falling = major[k] == 0 or major[k] == 1
        per_metre = np.float32(1.0) / step[k]
        hull_at = np.empty(max(rows, columns), np.int32)
        hull_h = np.empty(max(rows, columns), np.float32)
        if major[k] == 1 or major[k] == 2:
            march(heights, falling, shift[k], per_metre, hull_at, hull_h, out[k])
        else:
            scratch = np.zeros((columns, rows), np.float32)
            march(turned, falling, shift[k], per_metre, hull_at, hull_h, scratch)
            plane = out[k]
            for r0 in range(0, rows, 32):  # transposed in blocks that stay in the cache
                for c0 in range(0, columns, 32):
                    for r in range(r0, min(rows, r0 + 32)):
                        for c in range(c0, min(columns, c0 + 32)):
                            plane[r, c] = scratch[c, r]
