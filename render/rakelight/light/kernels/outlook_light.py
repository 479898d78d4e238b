"""What the room's light lacks, or has over, at vertices that see only some of its directions."""

from functools import partial

import numba
import numpy as np

from rakelight.light.kernels.compile import inline, kernel

# several vertices at once, which a check of each division would rule out
vector, vector_kernel = partial(inline, error_model="numpy"), partial(kernel, error_model="numpy")

F0 = np.float32(0.0)
F1 = np.float32(1.0)


@vector
def take_up(codes, table, from_a, from_n):
    """Terms of what lies above each vertex's horizon."""
    for c in range(codes.size):
        from_a[c] = table[0, codes[c]]
        from_n[c] = table[1, codes[c]]


@vector
def facing(normal_u, normal_v, sine, cosine, along):
    """Component of the normals along an azimuth."""
    for c in range(along.size):
        along[c] = normal_u[c] * sine + normal_v[c] * cosine


@vector
def add_above(along, n, from_a, from_n, low_a, low_n, mix, w, x, y, z, out):
    """Add a step of the light with elevation, at an edge: its height times what sees over it."""
    for c in range(out.size):
        part = along[c] * max(from_a[c], low_a) + n[c] * max(from_n[c], low_n)
        step = w * mix[0, c] + x * mix[1, c] + y * mix[2, c] + z * mix[3, c]
        out[c] += part * step


@vector_kernel
def add_beyond_terms(
    codes, normals, whole, above, sines, cosines, low_a, low_n, columns_at, columns_mix, starts,
    rows_at, rows_mix, steps, luma, light,
):  # fmt: skip
    """Correct the room's light at vertices by what its linear fit leaves out, in brightness alone.

    codes (K, R, C) uint8: horizons of K azimuths; normals (3, R, C) float32; whole, above (2, 256)
    float32: by code, integrals of the parts along the azimuth and along n up to the horizon, and
    of those over the mean plane; sines, cosines (K,) float32; low_a, low_n (J,) float32: the same
    at the edges of the bins by elevation, the first at the mean plane; columns_at (C, 4) int32 and
    columns_mix (4, C) float32: nodes and weights; starts (S + 1,) int32: where columns have
    other nodes; rows_at, rows_mix (R, 4): likewise; steps (NV, NU, K, J) float32 [lx]: how much
    less light there is above each edge than below, times an azimuth's width over pi; luma
    (B,) float32; light (R, C, B) float32 [lx]: changed.
    """
    turns, rows, columns = codes.shape
    nodes, edges = steps.shape[1], steps.shape[3]
    bands = light.shape[2]
    for r in numba.prange(rows):
        line = np.zeros((nodes, turns, edges), np.float32)
        for t in range(4):
            share = rows_mix[r, t]
            at = rows_at[r, t]
            for i in range(nodes):
                for k in range(turns):
                    for j in range(edges):
                        line[i, k, j] += share * steps[at, i, k, j]
        along = np.empty(columns, np.float32)
        whole_a, whole_n = np.empty(columns, np.float32), np.empty(columns, np.float32)
        above_a, above_n = np.empty(columns, np.float32), np.empty(columns, np.float32)
        more = np.zeros(columns, np.float32)
        for k in range(turns):
            facing(normals[0, r], normals[1, r], sines[k], cosines[k], along)
            take_up(codes[k, r], whole, whole_a, whole_n)
            take_up(codes[k, r], above, above_a, above_n)
            for s in range(starts.size - 1):
                a, b = starts[s], starts[s + 1]
                at = columns_at[a]
                for j in range(edges):
                    from_a, from_n = (whole_a, whole_n) if j == 0 else (above_a, above_n)
                    add_above(
                        along[a:b], normals[2, r, a:b], from_a[a:b], from_n[a:b],
                        low_a[j], low_n[j], columns_mix[:, a:b],
                        line[at[0], k, j], line[at[1], k, j], line[at[2], k, j], line[at[3], k, j],
                        more[a:b],
                    )  # fmt: skip
        for c in range(columns):
            usual = F0
            for i in range(bands):
                usual += luma[i] * light[r, c, i]
            if usual > F0:
                scale = max(F1 + more[c] / usual, F0)
                for i in range(bands):
                    light[r, c, i] *= scale
