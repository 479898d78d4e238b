"""What the room's light lacks, or has over, at vertices that see only some of its directions."""

import numba
import numpy as np

from rakelight.light.kernels.compile import quick_kernel
from rakelight.light.kernels.deal import dealt


# plain loops over flat arrays: they take a third as long to compile as functions of their own
@quick_kernel
def beyond_terms(
    codes, normals, table, sines, cosines, edge_a, edge_n, columns_at, columns_mix, starts, steps,
    heights, rises, out,
):  # fmt: skip
    """What vertices receive of light that a linear fit leaves out.

    codes (K, R, C) uint8: horizons of K azimuths; normals (3, R, C) float32; table (2, 256)
    float32: by code, integrals from the mean plane up to the horizon of the parts along the
    azimuth and along n; sines, cosines (K,) float32; edge_a, edge_n (J,) float32: the same at the
    edges of the bins by elevation, J even; columns_at (C, 4) int32 and columns_mix (4, C)
    float32: nodes along u and weights; starts (S + 1,) int32: where columns have other nodes;
    steps (R, nodes K J) float32 [lx]: how much less light there is above each edge than below,
    times an azimuth's width over pi; heights (R, C) float32 [m]: over the mean plane; rises, like
    steps or with no columns [lx/m]: how those change with height; out (R, C) float32 [lx]: zeros.
    """
    turns, rows, columns = codes.shape
    edges = edge_a.size
    node = turns * edges
    mix_0, mix_1, mix_2, mix_3 = columns_mix[0], columns_mix[1], columns_mix[2], columns_mix[3]
    for card in numba.prange(rows):
        r = dealt(card, rows)
        line, more, high, to = steps[r], rises[r], heights[r], out[r]
        normal_u, normal_v, normal_n = normals[0, r], normals[1, r], normals[2, r]
        along = np.empty(columns, np.float32)
        from_a, from_n = np.empty(columns, np.float32), np.empty(columns, np.float32)
        step_0, step_1 = np.empty(columns, np.float32), np.empty(columns, np.float32)
        for k in range(turns):
            code = codes[k, r]
            for c in range(columns):
                along[c] = normal_u[c] * sines[k] + normal_v[c] * cosines[k]
                from_a[c] = table[0, code[c]]
                from_n[c] = table[1, code[c]]
            for j in range(0, edges, 2):
                at = k * edges + j
                for s in range(starts.size - 1):
                    first = starts[s]
                    w, x = columns_at[first, 0] * node + at, columns_at[first, 1] * node + at
                    y, z = columns_at[first, 2] * node + at, columns_at[first, 3] * node + at
                    w_0, x_0, y_0, z_0 = line[w], line[x], line[y], line[z]
                    w_1, x_1, y_1, z_1 = line[w + 1], line[x + 1], line[y + 1], line[z + 1]
                    # of unsigned integers, none of which counts from the end
                    for c in range(np.uint64(first), np.uint64(starts[s + 1])):
                        a, b, e, f = mix_0[c], mix_1[c], mix_2[c], mix_3[c]
                        step_0[c] = w_0 * a + x_0 * b + y_0 * e + z_0 * f
                        step_1[c] = w_1 * a + x_1 * b + y_1 * e + z_1 * f
                    if more.size == 0:
                        continue
                    w_0, x_0, y_0, z_0 = more[w], more[x], more[y], more[z]
                    w_1, x_1, y_1, z_1 = more[w + 1], more[x + 1], more[y + 1], more[z + 1]
                    for c in range(np.uint64(first), np.uint64(starts[s + 1])):
                        a, b, e, f = mix_0[c], mix_1[c], mix_2[c], mix_3[c]
                        step_0[c] += high[c] * (w_0 * a + x_0 * b + y_0 * e + z_0 * f)
                        step_1[c] += high[c] * (w_1 * a + x_1 * b + y_1 * e + z_1 * f)
                a_0, n_0, a_1, n_1 = edge_a[j], edge_n[j], edge_a[j + 1], edge_n[j + 1]
                for c in range(columns):
                    part_0 = along[c] * max(from_a[c], a_0) + normal_n[c] * max(from_n[c], n_0)
                    part_1 = along[c] * max(from_a[c], a_1) + normal_n[c] * max(from_n[c], n_1)
                    to[c] += part_0 * step_0[c] + part_1 * step_1[c]
