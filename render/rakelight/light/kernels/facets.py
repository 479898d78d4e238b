"""Compiled loop over a relief's facets: what each sends back, lit by its own plane's normal."""

import numba
import numpy as np

from rakelight.light.kernels.compile import kernel

F0, F1, HALF, QUARTER = np.float32(0), np.float32(1), np.float32(0.5), np.float32(0.25)
#: A cell's corners, as rows and columns: lower left, lower right, upper left, upper right.
CORNERS = ((0, 0), (0, 1), (1, 0), (1, 1))
#: Which of a cell's middles (of its lower side, its left one, itself, its right side and its upper
#: one) lie about the quarter of it at each corner.
ABOUT = np.array([(0, 1, 2), (0, 2, 3), (1, 2, 4), (2, 3, 4)], np.int32)


@kernel
def facet_exitance(
    heights, normals, direct, toward, sent, step_u, step_v, rest, cells, around, between, out
):
    """Exitance of each cell at its four corners.

    heights (R, C) float32 [m]; normals (3, R, C) float32: of the vertices; direct (G, R, C) and
    toward (G, 3, R, C) float32 [lx]: as `Lit.direct_lx` and `Lit.toward_lx`; sent (G,) float32:
    how much of it is sent back [lm/lx]; steps float32 [m]; rest (R, C) float32: exitance of the
    vertices by other light; what has no one direction is added. cells (R - 1, C - 1) int32, around
    (M, 5) int32, between (G, 3, P) float32 [lx]: as `EdgeLight.cells`, `around` and `toward_lx`;
    where a shadow's edge crosses a cell, each corner stands for the mean of its quarter. out
    (4, R - 1, C - 1) float32: at the lower left, lower right, upper left and upper right corner
    [lm/m2].
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
            edge = cells[r, c]
            for k, (up, right) in enumerate(CORNERS):
                y, x = r + up, c + right
                total = rest[y, x]
                for g in range(groups):
                    light = toward[g, 2, y, x]
                    light -= rise_u * toward[g, 0, y, x] + rise_v * toward[g, 1, y, x]
                    light = max(light, F0)
                    if edge >= 0:
                        for j in range(3):
                            p = around[edge, ABOUT[k, j]]
                            more = between[g, 2, p]
                            more -= rise_u * between[g, 0, p] + rise_v * between[g, 1, p]
                            light += max(more, F0)
                        light *= QUARTER
                    total += sent[g] * facing * light
                out[k, r, c] = max(total, F0)
