"""What vertices of a relief send into bins of direction."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import kernel

F0 = np.float32(0.0)
F1 = np.float32(1.0)
HALF = np.float32(0.5)


@kernel
def send_into_bins(normals, tangents, kept, sines, cosines, area, low_a, low_n, out):
    """Flux of each vertex into bins by azimuth and elevation, for 1 lx and reflectance 1.

    normals (3, N) float32; tangents (K, M) float32: of the horizons, of which those numbered kept
    (N,) int64 are the vertices'; sines, cosines (K,) float32 of the azimuths from +v toward +u;
    area (N,) float32 [m2]: of each vertex, times an azimuth's width over pi; low_a, low_n (J + 1,)
    float32: the closed form's two integrals at the edges of the bins by elevation; out (N, K J)
    float32 [m2].

    The facing cosine's integral above the facet's own plane, the horizon and the mean plane:
    with a the normal's component along the azimuth and x the elevation, from
    a (x + sin x cos x) / 2 - n cos(x)^2 / 2.
    """
    bins = low_a.size - 1
    for i in numba.prange(kept.size):
        n_u, n_v, n = normals[0, i], normals[1, i], normals[2, i]
        for k in range(sines.size):
            along = n_u * sines[k] + n_v * cosines[k]
            tangent = max(tangents[k, kept[i]], -along / n, F0)
            square = F1 / (F1 + tangent * tangent)
            from_a = HALF * (np.float32(math.atan(tangent)) + tangent * square)
            from_n = -HALF * square
            before = along * max(from_a, low_a[0]) + n * max(from_n, low_n[0])
            for j in range(bins):
                whole = along * max(from_a, low_a[j + 1]) + n * max(from_n, low_n[j + 1])
                out[i, k * bins + j] = max((whole - before) * area[i], F0)
                before = whole
