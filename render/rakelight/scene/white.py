"""The colour of white light: correlated colour temperature to linear Rec.709.

Planckian up to 4000 K, as incandescent and warm sources are; daylight (CIE 15) from 5000 K;
between them a blend in u'v', because the two loci are 0.004 apart at 5000 K and a tunable run
that crosses from one to the other must not jump.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PLANCK_UP_TO_K = 4000.0
DAYLIGHT_FROM_K = 5000.0

# XYZ to linear sRGB (IEC 61966-2-1), white D65
_RGB_FROM_XYZ = np.array(
    [
        [3.2404542, -1.5371385, -0.4985314],
        [-0.9692660, 1.8760108, 0.0415560],
        [0.0556434, -0.2040259, 1.0572252],
    ]
)
LUMINANCE_WEIGHTS = np.array([0.2126, 0.7152, 0.0722])


def luminance_weights(bands: int) -> NDArray[np.float32]:
    """What each band counts for luminance, shape (bands,)."""
    return LUMINANCE_WEIGHTS.astype(np.float32) if bands == 3 else np.ones(1, np.float32)


def luminous(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Sum of bands weighted for luminance, shape (..., bands) to (...); one band is it already."""
    if light.shape[-1] == 1:
        return light[..., 0]
    # not by a matrix product, whose sums may depend on threads
    out: NDArray[np.float32] = np.einsum("...b,b->...", light, luminance_weights(3))
    return out


def planckian_uv(cct_k: float) -> tuple[float, float]:
    """CIE 1976 u', v' of a full radiator, 1000 to 15000 K.

    Parameters
    ----------
    cct_k : float
        [K]

    Notes
    -----
    Rational approximation, within 9e-5 of the locus; u' = u, v' = 1.5 v.

    References
    ----------
    .. [1] M. Krystek, An algorithm to calculate correlated colour temperature, Color Research
       and Application 10 (1), 1985 (coefficients from memory; checked in
       tests/scene/test_white.py against Planck's law summed with the CIE 1931 observer).
    """
    t = cct_k
    u = (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t * t) / (
        1 + 8.42420235e-4 * t + 7.08145163e-7 * t * t
    )
    v = (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t * t) / (
        1 - 2.89741816e-5 * t + 1.61456053e-7 * t * t
    )
    return u, 1.5 * v


def daylight_uv(cct_k: float) -> tuple[float, float]:
    """CIE 1976 u', v' of daylight, 4000 to 25000 K.

    Parameters
    ----------
    cct_k : float
        [K]

    References
    ----------
    .. [1] CIE 15, Colorimetry: daylight illuminants.
    """
    t = cct_k
    if t <= 7000:
        x = 0.244063 + 0.09911e3 / t + 2.9678e6 / t**2 - 4.6070e9 / t**3
    else:
        x = 0.237040 + 0.24748e3 / t + 1.9018e6 / t**2 - 2.0064e9 / t**3
    y = -3.0 * x * x + 2.870 * x - 0.275
    scale = -2 * x + 12 * y + 3
    return 4 * x / scale, 9 * y / scale


def white_uv(cct_k: float) -> tuple[float, float]:
    """CIE 1976 u', v' of white light of a colour temperature, without a jump anywhere.

    Parameters
    ----------
    cct_k : float
        1000 to 20000 K. [K]

    Raises
    ------
    ValueError
        Outside that range.
    """
    if not 1000 <= cct_k <= 20000:  # also catches NaN
        raise ValueError(f"cct_k is {cct_k}; it must lie between 1000 and 20000 K")
    if cct_k <= PLANCK_UP_TO_K:
        return planckian_uv(cct_k)
    if cct_k >= DAYLIGHT_FROM_K:
        return daylight_uv(cct_k)
    share = (cct_k - PLANCK_UP_TO_K) / (DAYLIGHT_FROM_K - PLANCK_UP_TO_K)
    planck, day = planckian_uv(cct_k), daylight_uv(cct_k)
    return (
        planck[0] + share * (day[0] - planck[0]),
        planck[1] + share * (day[1] - planck[1]),
    )


def white_rgb(cct_k: float) -> Floats:
    """Linear Rec.709 of white light, scaled to luminance 1.

    Parameters
    ----------
    cct_k : float
        1000 to 20000 K. [K]

    Returns
    -------
    ndarray of float64, shape (3,)
        0.2126 R + 0.7152 G + 0.0722 B = 1; a negative blue of very warm light is cut to 0.

    Raises
    ------
    ValueError
        Outside that range.
    """
    u, v = white_uv(cct_k)
    xyz = np.array([9 * u / (4 * v), 1.0, (12 - 3 * u - 20 * v) / (4 * v)])
    rgb = np.maximum(_RGB_FROM_XYZ @ xyz, 0.0)
    out: Floats = rgb / (LUMINANCE_WEIGHTS @ rgb)
    return out
