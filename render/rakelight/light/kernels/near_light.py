"""What a relief's vertices receive from the surface that they see around them.

All vertices look at the same offsets on the grid, so that each look is a sweep along a row. Far
looks take in several vertices at once: how high the highest is, and the exitance of what of them
faces whoever looks.
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
# arc tangent from 0 to 1, odd powers (Abramowitz and Stegun 4.4.47, from memory; 1e-5)
A1, A2, A3, A4, A5 = (
    np.float32(x) for x in (0.9998660, -0.3302995, 0.1801410, -0.0851330, 0.0208351)
)


@vector
def below(tangent, along, n):
    """Integral of (a cos x + n sin x) cos x up to the elevation, less a constant; no branches."""
    size = abs(tangent)
    small = min(size, F1 / max(size, np.float32(1e-9)))
    q = small * small
    angle = small * (A1 + q * (A2 + q * (A3 + q * (A4 + q * A5))))
    angle = QUARTER_TURN - angle if size > F1 else angle
    angle = -angle if tangent < F0 else angle
    square = F1 / (F1 + tangent * tangent)
    return HALF * (along * (angle + tangent * square) - n * square)


@vector
def begin(normal_u, normal_v, normal_n, sine, cosine, along, most, seen):
    """Set out along one azimuth: each vertex's own plane is its first horizon."""
    for c in range(along.size):
        along[c] = normal_u[c] * sine + normal_v[c] * cosine
        start = -along[c] / normal_n[c]
        most[c] = min(max(start, -STEEPEST), STEEPEST)
        seen[c] = below(most[c], along[c], normal_n[c])


@vector
def look(here, there, per_metre, along, n, weight, front, most, seen, out, hidden):
    """Add what each vertex newly sees at one offset."""
    for c in range(here.size):
        top = max((there[c] - here[c]) * per_metre, most[c])
        up = below(top, along[c], n[c])
        part = weight * (up - seen[c])
        out[c] += part * front[c]
        hidden[c] += part
        seen[c] = up
        most[c] = top


@vector_kernel
def near_light(
    heights, normals, tops, fronts, turn, looks, length, sine, cosine, weight, out, hidden
):  # fmt: skip
    """Add the light from the surface along one azimuth, and the form factor to it.

    heights (R, C) float32 [m]; normals (3, R, C) float32; tops, fronts (levels, R, C) float32:
    highest [m] and exitance [lm/m2] of 1, 2, 4, ... vertices on from each; turn (2,) int32: rows
    and columns of one step; looks (K, 2) int32: steps to the first vertex of each look, the nearest
    first, and its level; length float32: of one step [m]; sine, cosine, weight float32: of the
    azimuth from +v toward +u, and its width over pi; added to: out [lx], hidden (R, C), float32.
    """
    rows, columns = heights.shape
    for r in numba.prange(rows):
        along = np.empty(columns, np.float32)
        most = np.empty(columns, np.float32)
        seen = np.empty(columns, np.float32)
        begin(normals[0, r], normals[1, r], normals[2, r], sine, cosine, along, most, seen)
        for k in range(looks.shape[0]):
            level = int(looks[k, 1])
            y, x = r + int(looks[k, 0] * turn[0]), int(looks[k, 0] * turn[1])
            if y < 0 or y >= rows or abs(x) >= columns:
                break
            first, last = max(0, -x), columns - max(0, x)
            middle = np.float32(looks[k, 0]) + HALF * np.float32((1 << level) - 1)
            look(
                heights[r, first:last],
                tops[level, y, first + x : last + x],
                F1 / (length * middle),
                along[first:last],
                normals[2, r, first:last],
                weight,
                fronts[level, y, first + x : last + x],
                most[first:last],
                seen[first:last],
                out[r, first:last],
                hidden[r, first:last],
            )
