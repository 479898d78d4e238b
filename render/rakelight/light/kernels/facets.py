"""Compiled loop over a relief's facets: what each sends back, lit by its own plane's normal."""

import numba
import numpy as np

from rakelight.light.kernels.compile import kernel

F0, F1, HALF = np.float32(0), np.float32(1), np.float32(0.5)
#: A cell's corners, as rows and columns: lower left, lower right, upper left, upper right.
CORNERS = ((0, 0), (0, 1), (1, 0), (1, 1))


@kernel
def facet_exitance(heights, normals, direct, toward, sent, step_u, step_v, rest, out):
    """Exitance of each cell at its four corners.

    heights (R, C) float32 [m]; normals (3, R, C) float32: of the vertices; direct (G, R, C) and
    toward (G, 3, R, C) float32 [lx]: as `Lit.direct_lx` and `Lit.toward_lx`; sent (G,) float32:
    how much of it is sent back [lm/lx]; steps float32 [m]; rest (R, C) float32: exitance of the
    vertices by other light; what has no one direction is added. out (4, R - 1, C - 1) float32:
    at the lower left, lower right, upper left and upper right corner [lm/m2].
    """
    rows, columns = heights.shape
    groups = toward.shape[0]
    across, along = HALF / step_u, HALF / step_v
    for r in numba.prange(rows):
        for c in range(columns):
            for g in range(groups):
                light = (
                    toward[g, 0, r, c] * normals[0, r, c] + toward[g, 1, r, c] * normals[1, r, c]
                )
                light += toward[g, 2, r, c] * normals[2, r, c]
                rest[r, c] += sent[g] * (direct[g, r, c] - max(light, F0))
    for r in numba.prange(rows - 1):
        low, high = heights[r], heights[r + 1]
        for c in range(columns - 1):
            rise_u = ((low[c + 1] - low[c]) + (high[c + 1] - high[c])) * across
            rise_v = ((high[c] - low[c]) + (high[c + 1] - low[c + 1])) * along
            facing = F1 / np.sqrt(F1 + rise_u * rise_u + rise_v * rise_v)
            for k, (up, right) in enumerate(CORNERS):
                y, x = r + up, c + right
                total = rest[y, x]
                for g in range(groups):
                    light = toward[g, 2, y, x]
                    light -= rise_u * toward[g, 0, y, x] + rise_v * toward[g, 1, y, x]
                    total += sent[g] * facing * max(light, F0)
                out[k, r, c] = max(total, F0)
