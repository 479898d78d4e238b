"""Openness of a relief's vertices and its first moments: diffuse light through the horizons."""

import math

import numba
import numpy as np

from rakelight.light.kernels.compile import quick, quick_kernel

F0 = np.float32(0.0)
F1 = np.float32(1.0)
HALF = np.float32(0.5)
THIRD = np.float32(1.0 / 3.0)
#: Where a tangent would be divided by and is 0.
LEAST = np.float32(1e-30)


QUARTER_TURN = np.float32(0.5 * math.pi)
PER_CODE = np.float32(255.0 / math.pi)
#: arctan x over x, even powers of x from 0 to 1 (Abramowitz and Stegun, "Handbook of Mathematical
#: Functions", 4.4.49: |error| <= 2e-8).
T1, T2, T3, T4, T5, T6, T7, T8 = (
    np.float32(x)
    for x in (
        -0.3333314528, 0.1999355085, -0.1420889944, 0.1065626393,
        -0.0752896400, 0.0429096138, -0.0161657367, 0.0028662257,
    )
)  # fmt: skip


@quick
def own_horizon(horizons, normals_u, normals_v, normals_n, sine, cosine, tangents, rests):
    """Tangents of the horizons of a row, and the angles from there to straight out; no branches.

    The facet's own plane is a horizon too, and beyond the border, where nothing stands, the mean
    plane: the room does not reach below it.
    """
    for c in range(tangents.size):
        along = normals_u[c] * sine + normals_v[c] * cosine
        tangent = max(horizons[c], -along / normals_n[c], F0)
        tangents[c] = tangent
        x = min(tangent, F1 / max(tangent, LEAST))
        q = x * x
        part = T4 + q * (T5 + q * (T6 + q * (T7 + q * T8)))
        angle = x * (F1 + q * (T1 + q * (T2 + q * (T3 + q * part))))
        rests[c] = angle if tangent > F1 else QUARTER_TURN - angle


@quick
def encode(rests, codes):
    """Angles as parts of half a turn."""
    for c in range(rests.size):
        codes[c] = np.uint8(rests[c] * PER_CODE + HALF)


@quick
def add_row(
    tangents, rests, normals_u, normals_v, normals_n, sine_at, cosine_at, scale,
    out_whole, out_u, out_v, out_n,
):  # fmt: skip
    """Add the moments of a row over one azimuth."""
    for c in range(tangents.size):
        along, n = normals_u[c] * sine_at + normals_v[c] * cosine_at, normals_n[c]
        tangent = tangents[c]
        cosine = F1 / np.float32(math.sqrt(F1 + tangent * tangent))
        sine = tangent * cosine
        whole = along * HALF * (rests[c] - sine * cosine) + HALF * n * cosine * cosine
        by = scale if whole > F0 else F0
        cube = sine * sine * sine * THIRD
        other = cosine * cosine * cosine * THIRD
        side = by * (along * (np.float32(2.0) * THIRD - sine + cube) + n * other)
        out_whole[c] += by * whole
        out_u[c] += sine_at * side
        out_v[c] += cosine_at * side
        out_n[c] += by * (along * other + n * (THIRD - cube))


@quick_kernel
def add_open_moments(horizons, first, every, sines, cosines, normals, weight, out, codes):
    """Add the moments over some azimuths: integrals of the cosine over what each leaves open.

    horizons (L, R, C) float32 tangents, of which every so many from the first on are taken;
    sines, cosines (K,) float32 of their azimuths from +v toward +u; normals (3, R, C) float32;
    weight float32 [rad]: width of one azimuth; out (4, R, C) float32: integrals of 1, w_u, w_v,
    w_n times the cosine over pi, w the direction; codes (K, R, C) uint8, filled, or of size 0:
    how much of the 180 degrees of elevation is open above each horizon, the facet's own plane
    counted as one, in 255ths.

    With e the horizon's elevation and a the normal's component along the azimuth, the facing
    cosine at elevation x is a cos x + n sin x, and the solid angle cos x dx:
    1: a ((pi/2 - e)/2 - sin(2e)/4) + n cos(e)^2 / 2; along the azimuth:
    a (2/3 - sin e + sin(e)^3 / 3) + n cos(e)^3 / 3; along n: a cos(e)^3 / 3 + n (1 - sin(e)^3) / 3.
    """
    rows, columns = out.shape[1:]
    for r in numba.prange(rows):
        tangents, rests = np.empty(columns, np.float32), np.empty(columns, np.float32)
        for k in range(sines.size):
            own_horizon(
                horizons[first + k * every, r], normals[0, r], normals[1, r], normals[2, r],
                sines[k], cosines[k], tangents, rests,
            )  # fmt: skip
            if codes.size > 0:
                encode(rests, codes[k, r])
            add_row(
                tangents, rests, normals[0, r], normals[1, r], normals[2, r],
                sines[k], cosines[k], weight / np.float32(math.pi),
                out[0, r], out[1, r], out[2, r], out[3, r],
            )  # fmt: skip
