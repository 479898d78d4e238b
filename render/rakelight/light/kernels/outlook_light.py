"""What the room's light lacks, or has over, at vertices that see only some of its directions."""

import numba
import numpy as np

from rakelight.light.kernels.compile import quick_kernel
from rakelight.light.kernels.deal import dealt


# plain loops over flat arrays: they take a third as long to compile as functions of their own
@quick_kernel
def beyond_terms(
    codes, normals, table, fit_table, sines, cosines, edges, columns_at, columns_mix, starts, fits,
    steps, near, heights, out,
):  # fmt: skip
    """What vertices receive of light that a linear fit leaves out.

    codes (K, R, C) uint8: horizons of K azimuths; normals (3, R, C) float32; table (2, 256)
    float32: by code, integrals from the mean plane up to the horizon of the parts along the
    azimuth and along n; fit_table (2, 3, 256) float32: by code, from the horizon on, the same
    integrals of the fit's terms 1, w along the azimuth, w_n, each bin with its mean; sines,
    cosines (K,) float32; edges (7, J) float32: the bins' edges by elevation, as tangents; the
    integrals of `table` up to there; what a change of the tangent adds to both, and its square;
    columns_at (C, 4) int32 and columns_mix (4, C) float32: nodes along u and weights; starts
    (S + 1,) int32: where columns have other nodes; fits (R, nodes 4) float32 [lx]: coefficients of
    the fit, times an azimuth's width over pi; steps (R, nodes K J) float32 [lx]: how much less
    light there is above each edge than below, times that width; near (R, nodes K) float32 [1/m]:
    one over how far away along the plane what is seen lies; heights (R, C) float32 [m]: over the
    mean plane; out (R, C) float32 [lx]: zeros.
    """
    turns, rows, columns = codes.shape
    count = edges.shape[1]
    mix_0, mix_1, mix_2, mix_3 = columns_mix[0], columns_mix[1], columns_mix[2], columns_mix[3]
    for card in numba.prange(rows):
        r = dealt(card, rows)
        fit, line, away, high, to = fits[r], steps[r], near[r], heights[r], out[r]
        normal_u, normal_v, normal_n = normals[0, r], normals[1, r], normals[2, r]
        along, by = np.empty(columns, np.float32), np.empty(columns, np.float32)
        from_a, from_n = np.empty(columns, np.float32), np.empty(columns, np.float32)
        terms = np.empty((4, columns), np.float32)
        for k in range(4):
            for c in range(columns):
                w, x = 4 * columns_at[c, 0] + k, 4 * columns_at[c, 1] + k
                y, z = 4 * columns_at[c, 2] + k, 4 * columns_at[c, 3] + k
                terms[k, c] = (
                    fit[w] * mix_0[c] + fit[x] * mix_1[c] + fit[y] * mix_2[c] + fit[z] * mix_3[c]
                )
        for k in range(turns):
            code = codes[k, r]
            for c in range(columns):
                at = code[c]
                along[c] = normal_u[c] * sines[k] + normal_v[c] * cosines[k]
                from_a[c], from_n[c] = table[0, at], table[1, at]
                one, n = terms[0, c], terms[3, c]
                way = terms[1, c] * sines[k] + terms[2, c] * cosines[k]
                fit_a = one * fit_table[0, 0, at] + way * fit_table[0, 1, at]
                fit_n = one * fit_table[1, 0, at] + way * fit_table[1, 1, at]
                fit_a += n * fit_table[0, 2, at]
                fit_n += n * fit_table[1, 2, at]
                to[c] -= along[c] * fit_a + normal_n[c] * fit_n
            for s in range(starts.size - 1):
                first, last = np.uint64(starts[s]), np.uint64(starts[s + 1])
                i_0, i_1 = columns_at[first, 0] * turns + k, columns_at[first, 1] * turns + k
                i_2, i_3 = columns_at[first, 2] * turns + k, columns_at[first, 3] * turns + k
                w, x, y, z = away[i_0], away[i_1], away[i_2], away[i_3]
                # of unsigned integers, none of which counts from the end
                for c in range(first, last):
                    by[c] = w * mix_0[c] + x * mix_1[c] + y * mix_2[c] + z * mix_3[c]
                    by[c] *= -high[c]
                for j in range(count):
                    least, edge_a, edge_n = -edges[0, j], edges[1, j], edges[2, j]
                    a_1, n_1, a_2, n_2 = edges[3, j], edges[4, j], edges[5, j], edges[6, j]
                    w, x = line[i_0 * count + j], line[i_1 * count + j]
                    y, z = line[i_2 * count + j], line[i_3 * count + j]
                    for c in range(first, last):
                        step = w * mix_0[c] + x * mix_1[c] + y * mix_2[c] + z * mix_3[c]
                        more = max(by[c], least)
                        part_a = max(from_a[c], edge_a + more * (a_1 + more * a_2))
                        part_n = max(from_n[c], edge_n + more * (n_1 + more * n_2))
                        to[c] += (along[c] * part_a + normal_n[c] * part_n) * step
