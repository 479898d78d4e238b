"""Light handed on inside a relief's hollows, and to its vertices."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import kernel
from rakelight.light.kernels.deal import dealt
from rakelight.light.kernels.pieces import bin_of

F0 = np.float32(0.0)
F1 = np.float32(1.0)
HALF = np.float32(0.5)


@kernel
def exchange(starts, targets, weights, exitance, out):
    """What each piece receives from those it sees: out = T exitance, both (N, B) float32."""
    bands = exitance.shape[1]
    for n in numba.prange(out.shape[0]):
        for b in range(bands):
            out[n, b] = F0
        for k in range(starts[n], starts[n + 1]):
            for b in range(bands):
                out[n, b] += weights[k] * exitance[targets[k], b]


@kernel
def light_vertices(
    heights, moments, size, low, high, bins, first, openness, received, columns_at, columns_mix,
    rows_at, rows_mix, coefficients, out, inside,
):  # fmt: skip
    """Bounced light of every vertex: of the room through its openness, of the hollow for the rest.

    What the hollow sends is the mean exitance of what the pieces around the vertex, at its
    height, have behind their horizons, times what the vertex's own horizon hides.

    heights (R, C), moments (4, R, C) float32; size .. first as `measure_blocks`; openness (N,),
    received (N, B) float32 [lx]: of the pieces, from their hollow; columns_at, columns_mix (C, 4)
    int32 and float32, rows_at, rows_mix (R, 4): four nodes and their weights for each column
    and row; coefficients (4, NV, NU, B) float32 [lx]: the room's light on the mean plane as a
    linear function of direction; out, inside (R, C, B) float32 [lx]: of the room and of the
    hollow, the latter zeros.
    """
    rows, columns = heights.shape
    bands = out.shape[2]
    nodes = coefficients.shape[2]
    inverse = F1 / np.float32(size)
    for card in numba.prange(rows):
        r = dealt(card, rows)
        line = np.zeros((nodes, 4, bands), np.float32)
        sums = np.empty(bands, np.float32)
        for i in range(nodes):
            for k in range(4):
                for b in range(bands):
                    for t in range(4):
                        line[i, k, b] += rows_mix[r, t] * coefficients[k, rows_at[r, t], i, b]
        y = np.float32(r) * inverse - HALF
        y0 = math.floor(y)
        f = y - np.float32(y0)
        for c in range(columns):
            x = np.float32(c) * inverse - HALF
            x0 = math.floor(x)
            g = x - np.float32(x0)
            for b in range(bands):
                sums[b] = F0
                room = F0
                for t in range(4):
                    i = columns_at[c, t]
                    part = F0
                    for k in range(4):
                        part += moments[k, r, c] * line[i, k, b]
                    room += columns_mix[c, t] * part
                out[r, c, b] = room
            hidden = F0
            for d in range(4):
                i = max(0, min(y0 + (d >> 1), bins.shape[0] - 1))
                j = max(0, min(x0 + (d & 1), bins.shape[1] - 1))
                if bins[i, j] == 0:
                    continue
                share = (f if d >> 1 else F1 - f) * (g if d & 1 else F1 - g)
                n = first[i, j] + bin_of(heights[r, c], low[i, j], high[i, j], bins[i, j])
                hidden += share * (F1 - openness[n])
                for b in range(bands):
                    sums[b] += share * received[n, b]
            if hidden > np.float32(1e-6):
                own = max(F1 - moments[0, r, c], F0) / hidden
                for b in range(bands):
                    inside[r, c, b] = own * sums[b]
