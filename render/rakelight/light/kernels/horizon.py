"""Horizons of a height field along one azimuth: one pass with an upper convex hull as a stack."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel

#: Horizon where nothing stands between a vertex and the border: any source clears it.
OPEN = np.float32(-1e3)
#: Serves no vertex: another line of the cell is nearer, or the line is not on the field yet.
NOBODY, OUTSIDE = np.int32(-1), np.int32(-2)
#: Places along the minor axis are counted in so many parts of a cell: 2^BITS. An azimuth is then
#: off by at most 0.001 degrees, and a field may have so many rows and columns together.
BITS = np.int32(15)
LONGEST = (1 << 16) - 8  # places and what is compared with them stay within 32 bits
HALF_CELL, PER_CELL = np.int32(1 << 14), np.float32(1.0 / (1 << 15))


@quick
def look(field, row, minor, major, weight, per_metre, first, last, out):
    """Raise tangents of a row's vertices `first` to `last` to what one place each asks for.

    The place is the mean, by `weight`, of two vertices that are `minor` rows and `major`
    vertices away.
    """
    here = field[row, first:last]
    a = field[row + minor[0], first + major[0] : last + major[0]]
    b = field[row + minor[1], first + major[1] : last + major[1]]
    to = out[row, first:last]
    share_a, share_b = np.float32(1.0 - weight), np.float32(weight)
    for m in range(here.size):
        tangent = (share_a * a[m] + share_b * b[m] - here[m]) * per_metre
        to[m] = tangent if tangent > to[m] else to[m]


@quick
def look_near(field, falling, slope, per_metre, near, out):
    """Tangents to every edge that a vertex's own line crosses within `near` steps.

    All vertices cross at the same offsets, so each crossing is one sweep over the field. Cells
    are cut from their lower corner to their upper one along both axes.
    """
    width, count = field.shape
    toward = 1 if falling else -1
    step = slope if falling else -slope
    for row in range(width):
        out[row, :] = OPEN
    for n in range(1, near + 1):
        y, z = slope * n, slope * (n - 1)
        low = toward * n - (1 if falling else 0)  # of the two vertices between which it goes on
        at_low = z if falling else y
        first, last = (0, count - n) if falling else (n, count)
        if last <= first:
            break
        cell = math.floor(y)
        for row in range(width):
            if row + y < 0 or row + y > width - 1:
                continue
            up = 1 if row + cell < width - 1 else 0
            ends = (cell, cell + up)
            level = (toward * n, toward * n)
            look(field, row, ends, level, y - cell, per_metre / np.float32(n), first, last, out)
        for c in range(math.floor(min(y, z)), math.floor(max(y, z)) + 1):
            if step < 0.9999:
                d = (at_low - c) / (1.0 - step)
                away = n - 1 + d if falling else n - d
                if 0.0 < d < 1.0 and away > 0.0:
                    per = per_metre / np.float32(away)
                    for row in range(width):
                        if 0 <= row + y <= width - 1 and 0 <= row + c < width - 1:
                            ends = (c, c + 1)
                            look(field, row, ends, (low, low + 1), d, per, first, last, out)
            if c > min(y, z) and step != 0.0:
                d = (c - at_low) / step
                away = n - 1 + d if falling else n - d
                if away > 0.0:
                    per = per_metre / np.float32(away)
                    for row in range(width):
                        if 0 <= row + y <= width - 1 and 0 <= row + c < width - 1:
                            look(field, row, (c, c), (low, low + 1), d, per, first, last, out)


@quick
def lay_out(line, slope, lines, falling, width, count, start, stop, low, share, serves):
    """Lay a line over the field: where it takes its heights from, and which vertices it serves.

    Of each step: the first of the two vertices that it runs between, numbered along the field's
    memory, and the share of the second; the vertex nearest to the line, or `NOBODY` or `OUTSIDE`.

    Places are whole parts of a cell: neighbouring lines round alike, none skips a vertex. Each
    result is put back into 32 bits, so that eight fit where the compiler would count in four.
    """
    last, last_cell = np.int32((width - 1) << BITS), np.int32(max(width - 2, 0))
    beyond, none = np.int32(last + HALF_CELL), np.int32(0)
    row = np.int32(count)
    base, sign = (np.int32(count - 1), np.int32(-1)) if falling else (np.int32(0), np.int32(1))
    for i in range(start, stop):
        step = np.int32(i)
        place = np.int32(line - np.int32(slope * step))
        at = min(max(place, none), last)
        cell = min(np.int32(at >> BITS), last_cell)
        part = np.int32(at - np.int32(cell << BITS))
        vertex = np.int32(cell + np.int32(part > HALF_CELL))
        beside = np.int32(np.int32(place - np.int32(vertex << BITS)) * lines)
        m = np.int32(base + np.int32(sign * step))
        low[i] = np.int32(np.int32(cell * row) + m)
        share[i] = np.float32(part) * PER_CELL
        nearest = (beside > -HALF_CELL) & (beside <= HALF_CELL)
        inside = (place > -HALF_CELL) & (place <= beyond)
        code = np.int32(np.int32(vertex * row) + m) if nearest else NOBODY
        serves[i] = code if inside else OUTSIDE


@quick
def along_line(flat, low, up, share, start, stop, line_h):
    """Heights along a line; the second vertex is `up` further on in memory."""
    for i in range(start, stop):
        at = np.uint64(low[i])
        own = flat[at]
        line_h[i] = own + share[i] * (flat[at + up] - own)


@quick
def hulls(flat, flat_out, serves, line_h, start, stop, near, per_metre, hull):
    """Raise the vertices that a line serves to their horizons over what it has passed.

    The hull is a stack: of each point the step, the height, and the slope to the one behind.
    """
    at, heights, slopes = hull[0], hull[1], hull[2]
    top = -1
    top_at, top_h = np.float32(0.0), np.float32(0.0)
    begun = stop
    for i in range(start, stop):
        vertex = serves[np.uint64(i)]
        if vertex == OUTSIDE:
            continue
        begun = min(begun, i)
        # the hull holds what lies more than `near` steps away
        late = i - near - 1
        if late >= begun:
            h, there = line_h[np.uint64(late)], np.float32(late)
            # is the top one lower, seen from here, than the one behind?
            while top > 0 and top_h - h <= slopes[np.uint64(top)] * (there - top_at):
                top -= 1
                top_at, top_h = at[np.uint64(top)], heights[np.uint64(top)]
            top += 1
            slopes[np.uint64(top)] = (top_h - h) / (there - top_at) if top > 0 else np.float32(0.0)
            top_at, top_h = there, h
            at[np.uint64(top)], heights[np.uint64(top)] = there, h
        if vertex < 0 or top < 0:
            continue
        own = np.uint64(vertex)  # with its own height
        h, here = flat[own], np.float32(i)
        j = top
        rise, run = top_h - h, here - top_at
        while j > 0 and rise <= slopes[np.uint64(j)] * run:
            j -= 1
            rise, run = heights[np.uint64(j)] - h, here - at[np.uint64(j)]
        flat_out[own] = max(flat_out[own], rise / run * per_metre)


@quick
def march(field, falling, slope, lines, per_metre, near, out):
    """Horizons of one azimuth along the second axis of `field`; see `sheared_horizons`."""
    width, count = field.shape
    flat, flat_out = field.ravel(), out.ravel()
    low, serves = np.empty(count, np.int32), np.empty(count, np.int32)
    share, line_h = np.empty(count, np.float32), np.empty(count, np.float32)
    hull = np.empty((3, count), np.float32)
    up = np.uint64(count if width > 1 else 0)
    half = np.float32(0.5)
    edge = np.float32(width - 1)
    parts = np.int32(round(slope * (1 << BITS)))
    slope = np.float32(parts) * PER_CELL
    look_near(field, falling, float(slope), per_metre, near, out)
    reach = slope * np.float32(count - 1)
    first = math.floor(min(np.float32(0.0), reach) - half)
    last = math.ceil(edge + max(np.float32(0.0), reach) + half)
    for number in range(first * lines, last * lines + 1):
        # the line crosses the minor axis at `line` on the source's border; each step away from
        # the source shifts it by -slope
        line = float(number) / lines
        start, stop = 0, count
        if slope != 0.0:  # only where the line crosses the field, a step to spare
            enter = (np.float32(line) - edge - half) / slope
            leave = (np.float32(line) + half) / slope
            start = max(0, math.floor(min(enter, leave)))
            stop = min(count, math.ceil(max(enter, leave)) + 1)
        lay_out(
            np.int32(number * (1 << BITS) // lines), parts, lines, falling, width, count,
            start, stop, low, share, serves,
        )  # fmt: skip
        along_line(flat, low, up, share, start, stop, line_h)
        hulls(flat, flat_out, serves, line_h, start, stop, near, per_metre, hull)


@quick_kernel
def sheared_horizons(heights, turned, major, shift, lines, step, near, out):
    """Horizon tangents of every vertex along K azimuths.

    For azimuth k, lines march over the axis `major[k]` (0: along rows, the source lies at
    higher rows; 1: along columns, source at higher columns; 2: along columns, source at
    lower columns; 3: along rows, source at lower rows), shifted by `shift[k]` cells of the
    other axis a step toward the source, `lines[k]` lines a cell. A vertex, with its own height,
    looks `near` steps along its own line, and beyond them takes what the nearest line sees: half
    a cell aside matters close by, and where a line keeps to a column for many rows, which is
    what several lines a cell are for. Tried instead on split stone: the mean of two neighbouring
    lines' horizons closes narrow views (the foot of a graze 3 % too dark); a line's horizon from
    the line's own height misses at cliffs (correlation with brute force 0.997).

    heights (R, C) float32 [m]; turned (C, R) float32: its transpose, in memory too, because a
    march across memory rows is several times slower; major (K,) int32; shift (K,) float32
    [cells/step]; lines (K,) int32, powers of two, so that places on them are exact; step (K,)
    float32: plan distance of one step [m]; near int32; out (K, R, C) float32, filled: tangent of
    the horizon's elevation.
    """
    rows, columns = heights.shape
    for k in numba.prange(major.size):
        falling = major[k] == 0 or major[k] == 1
        per_metre = np.float32(1.0) / step[k]
        # one call, so that the march is compiled once
        flat = major[k] == 1 or major[k] == 2
        field = heights if flat else turned
        plane = out[k]
        found = plane if flat else np.empty(turned.shape, np.float32)
        march(field, falling, shift[k], lines[k], per_metre, near, found)
        if not flat:
            for r0 in range(0, rows, 32):  # transposed in blocks that stay in the cache
                for c0 in range(0, columns, 32):
                    for r in range(r0, min(rows, r0 + 32)):
                        for c in range(c0, min(columns, c0 + 32)):
                            plane[r, c] = found[c, r]
