"""Light as a function of direction over a half-space: c0 + cu w_u + cv w_v + cn w_n, fitted.

w is the unit direction in a surface's own frame. Quadratic terms were tried: they swing about
at grazing directions, where the fit has next to no weight, and neighbours in a corner saw
exitances below 0.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

#: Terms: 1, w_u, w_v, w_n.
TERMS = 4
#: Moments of an even half-space: integrals of the terms times the cosine over pi.
EVEN = np.array([1.0, 0.0, 0.0, 2 / 3])


def terms_of(way: Floats) -> Floats32:
    """Terms of unit directions (u, v, n), shape (..., 3) to (..., TERMS)."""
    out: Floats32 = np.concatenate([np.ones_like(way[..., :1]), way], axis=-1).astype(np.float32)
    return out


def fitted(moments: Floats32) -> Floats32:
    """Coefficients of the terms whose sum has these moments, shape (TERMS, ...).

    Parameters
    ----------
    moments : ndarray of float32, shape (TERMS, ...)
        Integrals of the light over the half-space times each term and the cosine over pi. [lx]

    Returns
    -------
    ndarray of float32, of the same shape
        The moments, the plane's own illuminance among them, are met exactly. [lx]

    Notes
    -----
    Least squares with the cosine as weight. Moments of products of the terms over the half-space:
    1 for 1 x 1, 1/4 for u x u and v x v, 1/2 for n x n, 2/3 for 1 x n, else 0.
    """
    one, u, v, n = moments
    out: Floats32 = np.stack([9 * one - 12 * n, 4 * u, 4 * v, 18 * n - 12 * one])
    return out.astype(np.float32)


def made_even(moments: Floats32, even: Floats32) -> None:
    """Correct moments, shape (TERMS, ...), by what an even light misses `EVEN` by, in place.

    Parameters
    ----------
    moments : ndarray of float32, shape (TERMS, ...)
        The first is right already.
    even : ndarray of float32, shape (TERMS, ...)
        What the same sums make of light of one exitance all over; the first is 1.
    """
    for k in range(1, TERMS):
        moments[k] += moments[0] * (np.float32(EVEN[k]) - even[k])
