"""Light between the walls of a relief's hollows: pieces of the surface that see each other.

From samples of each piece marches go out over the heights and link what rises over all that came
before: all that a piece sees below its horizon, and how much of it.
"""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel
from rakelight.light.kernels.pieces import MOST_BINS, bin_of, floor, height_at, sample_block

F0 = np.float32(0.0)
F1 = np.float32(1.0)
HALF = np.float32(0.5)
THIRD = np.float32(1.0 / 3.0)
#: Cells that a march goes through one by one before its strides grow.
NEAR_CELLS = 6


@quick
def below(tangent, along, n):
    """Integral of (a cos x + n sin x) cos x up to the elevation, less a constant."""
    square = F1 / (F1 + tangent * tangent)
    angle = np.float32(math.atan(tangent))
    return HALF * (along * (angle + tangent * square) - n * square)


@quick
def piece_in(r, c, h, size, low, high, bins, first):
    """Number of the piece at height h in the block of a cell; -1 off the relief."""
    i = r // size
    j = c // size
    if bins[i, j] == 0:
        return np.int32(-1)
    return np.int32(first[i, j] + bin_of(h, low[i, j], high[i, j], bins[i, j]))


@quick
def march(
    heights, highest, steps, growth, sine, cosine, size, low, high, bins, first, steep, place,
    facing, count, targets, weights,
):  # fmt: skip
    """Go out from one sample along one azimuth and link what rises over all that came before.

    Near by, and wherever a long stride climbs, it goes from one line of the grid to the next,
    so that every rise is found in the cell that it happens in.

    Returns the number of links with the new ones, the horizon's tangent, and the sum of the
    weights: integrals of the facing cosine between the elevations of what is seen.
    """
    rows, columns = heights.shape
    h = place[2]
    along = facing[0] * sine + facing[1] * cosine
    n_n = facing[2]
    most = -along / n_n
    seen = below(most, along, n_n)
    total = F0
    d_r = cosine / steps[1]
    d_c = sine / steps[0]
    stride = F1 / (abs(d_r) + abs(d_c))  # a cell along this azimuth, about
    near = np.float32(NEAR_CELLS) * stride
    last = np.int32(-1)
    s = F0
    h_old = h
    goal = near
    walking = True
    while s < goal or goal <= near or highest - h > most * s:
        # where this step ends, and in which cell it runs
        y = place[0] + s * d_r
        x = place[1] + s * d_c
        if walking:
            slip = np.float32(1e-3)
            r = floor(y + slip if d_r > F0 else y - slip)
            c = floor(x + slip if d_c > F0 else x - slip)
            if r < 0 or c < 0 or r > rows - 2 or c > columns - 2:
                break
            up = (np.float32(r + 1 if d_r > F0 else r) - place[0]) / d_r
            right = (np.float32(c + 1 if d_c > F0 else c) - place[1]) / d_c
            s_new = min(up, right)
            if s_new <= s:  # rounding on a grid line
                s_new = s + np.float32(0.01) * stride
        else:
            rises = False
            while not rises:  # long strides over what lies below the horizon
                s_new = goal
                y = place[0] + s_new * d_r
                x = place[1] + s_new * d_c
                r = floor(y)
                c = floor(x)
                if r < 0 or c < 0 or r > rows - 2 or c > columns - 2:
                    break
                here = height_at(heights, r, c, y - np.float32(r), x - np.float32(c))
                rises = here - h > most * s_new
                if not rises:
                    s = s_new
                    h_old = here
                    goal = s + max(stride, s * growth)
                    if highest - h <= most * s:
                        return count, most, total
            if not rises:
                walking = True  # go to the border cell by cell
                continue
        f = place[0] + s_new * d_r - np.float32(r)
        g = place[1] + s_new * d_c - np.float32(c)
        f = min(max(f, F0), F1)
        g = min(max(g, F0), F1)
        here = height_at(heights, r, c, f, g)
        if here - h > most * s_new:
            if not walking and here - h_old > HALF * steep:
                walking = True  # look where it climbs
                continue
            parts = min(MOST_BINS, 1 + int(abs(here - h_old) / steep))
            for k in range(parts):
                q = np.float32(k + 1) / np.float32(parts)
                tangent = (h_old + q * (here - h_old) - h) / (s + q * (s_new - s))
                if tangent <= most:
                    continue
                q -= HALF / np.float32(parts)
                target = piece_in(r, c, h_old + q * (here - h_old), size, low, high, bins, first)
                up_to = below(tangent, along, n_n)
                if target >= 0:
                    part = up_to - seen
                    total += part
                    if target != last and count < targets.size:
                        targets[count] = target
                        weights[count] = F0
                        count += 1
                        last = target
                    weights[count - 1] += part
                seen = up_to
                most = tangent
        s = s_new
        h_old = here
        if s >= goal:
            goal = s + max(stride, s * growth)
            walking = False
        if highest - h <= most * s and s > stride:
            break
    return count, most, total


@quick
def link_self(piece, part, count, targets, weights):
    """Add a link of a piece to itself; returns the number of links."""
    if count == 0 or targets[count - 1] != piece:
        if count < targets.size:
            targets[count] = piece
            weights[count] = F0
            count += 1
    weights[count - 1] += part
    return count


@quick_kernel
def link_pieces(
    heights, mask, highest, steps, growth, sines, cosines, size, steep, low, high, bins, first,
    start, stop, area, moments, counts, targets, weights,
):  # fmt: skip
    """Find, for each piece, what it sees below its horizon and how much of each.

    Each azimuth starts from another sample of the piece, so that a block's different facets
    all have a say; neighbouring blocks look along azimuths in between. The weights and the
    openness are scaled to a sum of 1 together: with all surfaces and the room of one exitance,
    each piece receives exactly that.

    heights (R, C) float32; mask (R, C) bool; highest float32 [m]; steps (2,) float32: along u, v
    [m]; growth float32: longest stride over the distance gone; sines, cosines (4, A) float32: of
    the azimuths of blocks with even or odd row and column; size .. first as `measure_blocks`, first
    (BR, BC) int32: number of each block's first piece; start, stop int32: block rows to do; filled
    for their pieces: area (N,) float32 [m2], moments (4, N) float32 as `open_moments`, counts (N,)
    int32: links of each piece, and targets (P, L) int32, weights (P, L) float32, whose row 0 is the
    first piece of row `start`.
    """
    azimuths = sines.shape[1]
    room = size * size * MOST_BINS * MOST_BINS
    quarter = np.float32(0.5 * math.pi)
    base = first[start, 0]
    for row in numba.prange(stop - start):
        i = start + np.int32(row)
        place = np.empty((room, 4), np.float32)
        facing = np.empty((room, 3), np.float32)
        piece = np.empty(room, np.int32)
        order = np.empty(room, np.int32)
        opened = np.empty(moments.shape[0], np.float32)
        for j in range(bins.shape[1]):
            turn = 2 * (i & 1) + (j & 1)
            count = sample_block(
                heights, mask, size, steep, steps, i, j, low[i, j], high[i, j], bins[i, j],
                place, facing, piece,
            )  # fmt: skip
            for b in range(bins[i, j]):
                n = first[i, j] + b
                whole = F0
                members = 0
                for m in range(count):
                    if piece[m] == b:
                        whole += place[m, 3]
                        order[members] = m
                        members += 1
                area[n] = whole
                links = 0
                opened[:] = F0
                hidden = F0
                for k in range(azimuths):
                    if members == 0:
                        break
                    # the sample at share ((5 k + 1/2) mod A) / A of the piece's area
                    goal = whole * (np.float32((5 * k) % azimuths) + HALF) / azimuths
                    m = 0
                    gone = place[order[0], 3]
                    while gone < goal and m < members - 1:
                        m += 1
                        gone += place[order[m], 3]
                    own = place[order[m]]
                    way = facing[order[m]]
                    sine_k, cosine_k = sines[turn, k], cosines[turn, k]
                    links, tangent, total = march(
                        heights, highest, steps, growth, sine_k, cosine_k, size, low, high, bins,
                        first, steep, own, way, links, targets[n - base], weights[n - base],
                    )  # fmt: skip
                    hidden += total
                    along = way[0] * sine_k + way[1] * cosine_k
                    if tangent < F0:
                        # past the border the room begins above the mean plane; what lies below
                        # is taken for more of the same piece
                        links = link_self(
                            np.int32(n), below(F0, along, way[2]) - below(tangent, along, way[2]),
                            links, targets[n - base], weights[n - base],
                        )  # fmt: skip
                        hidden += below(F0, along, way[2]) - below(tangent, along, way[2])
                        tangent = F0
                    cosine = F1 / np.float32(math.sqrt(F1 + tangent * tangent))
                    sine = tangent * cosine
                    cube = sine * sine * sine * THIRD
                    other = cosine * cosine * cosine * THIRD
                    rest = quarter - np.float32(math.atan(tangent))
                    whole_turn = rest - sine * cosine
                    opened[0] += HALF * (along * whole_turn + way[2] * cosine * cosine)
                    side = along * (np.float32(2.0) * THIRD - sine + cube) + way[2] * other
                    opened[1] += sine_k * side
                    opened[2] += cosine_k * side
                    opened[3] += along * other + way[2] * (THIRD - cube)
                counts[n] = links
                if hidden + opened[0] > F0:
                    scale = F1 / (hidden + opened[0])
                    for k in range(opened.size):
                        moments[k, n] = opened[k] * scale
                    for k in range(links):
                        weights[n - base, k] *= scale
