"""Openness of a relief's vertices: diffuse light through the horizons."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import kernel

F0 = np.float32(0.0)


@kernel
def add_openness(horizons, sines, cosines, normals, weight, out):
    """Add the openness over some azimuths: integral of the cosine over what each leaves open.

    horizons (K, R, C) float32 tangents; sines, cosines (K,) float32 of the azimuths from +v
    toward +u; normals (3, R, C) float32; weight float32 [rad]: width of one azimuth; out (R, C)
    float32: 1 for an open plane once the weights sum to 2 pi.

    For one azimuth, with e the horizon's elevation and a the normal's component along it, the
    integral over elevation of (a cos + n sin) cos is
    a ((pi/2 - e)/2 - sin(2e)/4) + n cos(e)^2 / 2.
    """
    rows, columns = out.shape
    scale = weight / np.float32(math.pi)
    for r in numba.prange(rows):
        for k in range(horizons.shape[0]):
            tangents = horizons[k, r]
            for c in range(columns):
                along = normals[0, r, c] * sines[k] + normals[1, r, c] * cosines[k]
                n = normals[2, r, c]
                # the facet's own plane is a horizon too
                tangent = max(tangents[c], -along / n)
                inverse = np.float32(1.0) / (np.float32(1.0) + tangent * tangent)
                rest = np.float32(0.5 * math.pi) - np.float32(math.atan(tangent))
                part = along * np.float32(0.5) * (rest - tangent * inverse)
                part += np.float32(0.5) * n * inverse
                out[r, c] += scale * max(part, F0)
