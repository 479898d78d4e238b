"""Openness of a relief's vertices and its first moments: diffuse light through the horizons."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import kernel

F0 = np.float32(0.0)
F1 = np.float32(1.0)
HALF = np.float32(0.5)
THIRD = np.float32(1.0 / 3.0)


@kernel
def add_open_moments(horizons, sines, cosines, normals, weight, out, codes):
    """Add the moments over some azimuths: integrals of the cosine over what each leaves open.

    horizons (K, R, C) float32 tangents; sines, cosines (K,) float32 of the azimuths from +v
    toward +u; normals (3, R, C) float32; weight float32 [rad]: width of one azimuth; out
    (4, R, C) float32: integrals of 1, w_u, w_v, w_n times the cosine over pi, w the direction;
    codes (K, R, C) uint8, filled, or of size 0: how much of the 180 degrees of elevation is open
    above each horizon, the facet's own plane counted as one, in 255ths.

    With e the horizon's elevation and a the normal's component along the azimuth, the facing
    cosine at elevation x is a cos x + n sin x, and the solid angle cos x dx:
    1: a ((pi/2 - e)/2 - sin(2e)/4) + n cos(e)^2 / 2; along the azimuth:
    a (2/3 - sin e + sin(e)^3 / 3) + n cos(e)^3 / 3; along n: a cos(e)^3 / 3 + n (1 - sin(e)^3) / 3.
    """
    rows, columns = out.shape[1:]
    scale = weight / np.float32(math.pi)
    quarter = np.float32(0.5 * math.pi)
    per_code = np.float32(255.0 / math.pi)
    kept = codes.size > 0
    for r in numba.prange(rows):
        for k in range(horizons.shape[0]):
            tangents = horizons[k, r]
            for c in range(columns):
                along = normals[0, r, c] * sines[k] + normals[1, r, c] * cosines[k]
                n = normals[2, r, c]
                # the facet's own plane is a horizon too, and beyond the border, where nothing
                # stands, the mean plane: the room does not reach below it
                tangent = max(tangents[c], -along / n, F0)
                cosine = F1 / np.float32(math.sqrt(F1 + tangent * tangent))
                sine = tangent * cosine
                rest = quarter - np.float32(math.atan(tangent))
                if kept:
                    codes[k, r, c] = np.uint8(rest * per_code + HALF)
                whole = along * HALF * (rest - sine * cosine) + HALF * n * cosine * cosine
                if whole <= F0:
                    continue
                cube = sine * sine * sine * THIRD
                other = cosine * cosine * cosine * THIRD
                side = scale * (along * (np.float32(2.0) * THIRD - sine + cube) + n * other)
                out[0, r, c] += scale * whole
                out[1, r, c] += sines[k] * side
                out[2, r, c] += cosines[k] * side
                out[3, r, c] += scale * (along * other + n * (THIRD - cube))
