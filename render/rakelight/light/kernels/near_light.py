"""What a relief's vertices receive from the surface that they see around them.

All vertices look at the same offsets on the grid, so that each look is a sweep along a row.
"""

import math
from functools import partial

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel

# several vertices at once, which a check of each division would rule out
vector, vector_kernel = partial(inline, error_model="numpy"), partial(kernel, error_model="numpy")

F0 = np.float32(0.0)
F1 = np.float32(1.0)
HALF = np.float32(0.5)
QUARTER_TURN = np.float32(0.5 * math.pi)
#: Tangent that stands for straight up and straight down.
STEEPEST = np.float32(1e4)
# arc tangent from 0 to 1, odd powers (Abramowitz and Stegun 4.4.49, from memory; 2e-8)
A1, A2, A3, A4 = (np.float32(x) for x in (-0.3333314528, 0.1999355085, -0.1420889944, 0.1065626393))
A5, A6, A7, A8 = (np.float32(x) for x in (-0.0752896400, 0.0429096138, -0.0161657367, 0.0028662257))


@vector
def below(tangent, along, n):
    """Integral of (a cos x + n sin x) cos x up to the elevation, less a constant; no branches."""
    size = abs(tangent)
    small = min(size, F1 / max(size, np.float32(1e-9)))
    q = small * small
    series = F1 + q * (
        A1 + q * (A2 + q * (A3 + q * (A4 + q * (A5 + q * (A6 + q * (A7 + q * A8))))))
    )
    angle = small * series
    angle = QUARTER_TURN - angle if size > F1 else angle
    angle = -angle if tangent < F0 else angle
    square = F1 / (F1 + tangent * tangent)
    return HALF * (along * (angle + tangent * square) - n * square)


@vector
def begin(normal_u, normal_v, normal_n, sine, cosine, along, most, seen, before):
    """Set out along one azimuth: each vertex's own plane is its first horizon."""
    for c in range(along.size):
        along[c] = normal_u[c] * sine + normal_v[c] * cosine
        start = -along[c] / normal_n[c]
        most[c] = min(max(start, -STEEPEST), STEEPEST)
        seen[c] = below(most[c], along[c], normal_n[c])
        before[c] = -STEEPEST


@vector
def look(here, there, per_metre, along, n, most, seen, before, part, share):
    """Look at one offset: what each vertex newly sees there, and where on the way to it."""
    for c in range(here.size):
        tangent = (there[c] - here[c]) * per_metre
        top = max(tangent, most[c])
        up = below(top, along[c], n[c])
        part[c] = up - seen[c]
        rise = max(tangent - before[c], np.float32(1e-9))
        hidden = min(max((most[c] - before[c]) / rise, F0), F1)
        share[c] = HALF * (F1 + hidden)
        seen[c] = up
        most[c] = top
        before[c] = tangent


@vector
def add(part, share, weight, old, new, out):
    """Add the exitance of what is newly seen, between that of two places."""
    for c in range(part.size):
        out[c] += weight * part[c] * (old[c] + share[c] * (new[c] - old[c]))


@vector_kernel
def near_light(heights, normals, exitance, steps, lengths, sines, cosines, weights, out, hidden):
    """Light from the surface around each vertex, and the form factor to it.

    heights (R, C) float32 [m]; normals (3, R, C) float32; exitance (B, R, C) float32 [lm/m2];
    steps (A, K, 2) int32: rows and columns to each look, the nearest first; lengths (A, K)
    float32 [m]; sines, cosines, weights (A,) float32: of the azimuths from +v toward +u, and
    their widths over pi; filled: out (B, R, C) [lx], hidden (R, C), float32.

    The surface between two looks has an exitance between theirs, by where on the way it comes
    over what hides it.
    """
    rows, columns = heights.shape
    bands = exitance.shape[0]
    for r in numba.prange(rows):
        along = np.empty(columns, np.float32)
        most = np.empty(columns, np.float32)
        seen = np.empty(columns, np.float32)
        before = np.empty(columns, np.float32)
        part = np.empty(columns, np.float32)
        share = np.empty(columns, np.float32)
        for a in range(sines.size):
            begin(
                normals[0, r], normals[1, r], normals[2, r], sines[a], cosines[a],
                along, most, seen, before,
            )  # fmt: skip
            y, x = 0, 0  # of the look before
            for k in range(steps.shape[1]):
                dy, dx = int(steps[a, k, 0]), int(steps[a, k, 1])
                if r + dy < 0 or r + dy >= rows or abs(dx) >= columns:
                    break
                first, last = max(0, -dx), columns - max(0, dx)
                look(
                    heights[r, first:last],
                    heights[r + dy, first + dx : last + dx],
                    F1 / lengths[a, k],
                    along[first:last],
                    normals[2, r, first:last],
                    most[first:last],
                    seen[first:last],
                    before[first:last],
                    part[first:last],
                    share[first:last],
                )
                for c in range(first, last):
                    hidden[r, c] += weights[a] * part[c]
                for b in range(bands):
                    add(
                        part[first:last],
                        share[first:last],
                        weights[a],
                        exitance[b, r + y, first + x : last + x],
                        exitance[b, r + dy, first + dx : last + dx],
                        out[b, r, first:last],
                    )
                y, x = dy, dx
