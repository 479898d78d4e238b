"""What is open above horizons, against integrals by quadrature."""

import numpy as np
import pytest
from scipy.integrate import quad

from rakelight.light.kernels.open_moments import add_open_moments

AZIMUTH = 0.7
SINE, COSINE = np.float32(np.sin(AZIMUTH)), np.float32(np.cos(AZIMUTH))


@pytest.fixture(scope="module")
def found():
    """Normals, tangents of horizons, moments over one azimuth and codes, all at random."""
    rng = np.random.default_rng(5)
    normals = rng.normal(size=(3, 4, 25)) + np.array([0, 0, 2.5])[:, None, None]
    normals[2] = np.maximum(normals[2], 0.2)
    normals /= np.sqrt((normals**2).sum(axis=0))
    # from far below the mean plane to nearly straight out
    tangents = np.tan(rng.uniform(-1.57, 1.57, (3, 4, 25)))
    moments, codes = np.zeros((4, 4, 25), np.float32), np.zeros((1, 4, 25), np.uint8)
    add_open_moments(
        tangents.astype(np.float32), 1, 2, np.array([SINE]), np.array([COSINE]),
        normals.astype(np.float32), np.float32(0.3), moments, codes,
    )  # fmt: skip
    return normals, tangents[1], moments, codes[0]


def lowest(normals, tangents):
    """Elevation of what is open: above the horizon, the facet's own plane and the mean plane."""
    along = normals[0] * SINE + normals[1] * COSINE
    return along, np.arctan(np.maximum(np.maximum(tangents, -along / normals[2]), 0.0))


@pytest.mark.parametrize("moment", range(4))
def test_moments_are_integrals_of_the_cosine_over_the_open_directions(found, moment):
    normals, tangents, moments, _ = found
    along, start = lowest(normals, tangents)
    factor = {
        0: lambda x: 1.0,
        1: lambda x: SINE * np.cos(x),
        2: lambda x: COSINE * np.cos(x),
        3: np.sin,
    }[moment]
    for where in np.ndindex(start.shape):
        a, n = along[where], normals[2][where]
        expected, _ = quad(
            lambda x, a=a, n=n: factor(x) * (a * np.cos(x) + n * np.sin(x)) * np.cos(x),
            start[where],
            np.pi / 2,
        )
        assert moments[(moment, *where)] == pytest.approx(0.3 / np.pi * expected, abs=2e-7)


def test_codes_are_open_elevations_in_255ths_of_half_a_turn(found):
    normals, tangents, _, codes = found
    _, start = lowest(normals, tangents)
    exact = (np.pi / 2 - start) * 255 / np.pi
    assert np.abs(codes - exact).max() <= 0.5 + 1e-3
    assert codes.min() < 10  # some are nearly closed
    assert codes.max() > 100
