import itertools

import numpy as np
import pytest

from rakelight.picture.exposure import (
    automatic_ev100,
    ev100_of,
    log_average_cd_m2,
    peak_cd_m2,
)
from rakelight.picture.tone import WHITE, curve

# EV100 = log2(100 L / 12.5), ISO 2720; L_max = 1.2 x 2^EV100, ISO 12232 with q = 0.65
TABLE = [
    (0.1, -0.32193, 0.96),
    (1, 3.00000, 9.6),
    (10, 6.32193, 96),
    (50, 8.64386, 480),
    (100, 9.64386, 960),
    (1000, 12.96578, 9600),
]


@pytest.mark.parametrize(("luminance", "ev100", "peak"), TABLE)
def test_exposure_matches_the_standards(luminance, ev100, peak):
    assert ev100_of(luminance) == pytest.approx(ev100, abs=5e-6)
    assert peak_cd_m2(ev100_of(luminance)) == pytest.approx(peak, rel=1e-6)


def test_no_exposure_for_darkness():
    with pytest.raises(ValueError, match="above 0"):
        ev100_of(0.0)
    with pytest.raises(ValueError, match="no lit surface"):
        automatic_ev100([np.empty(0)], WHITE)


@pytest.mark.parametrize(
    ("parts", "average"),
    # Reinhard et al. 2002, delta 1e-4, by hand
    [([1, 10, 100], 10.0), ([50, 200], 100.0), ([100] * 9 + [0], 25.119)],
)
def test_log_average(parts, average):
    assert log_average_cd_m2([np.array(parts, float)]) == pytest.approx(average, rel=1e-4)


def test_automatic_exposure_shows_the_average_at_middle_grey():
    ev100 = automatic_ev100([np.full((8, 8), 40.0)])
    assert 40.0 / peak_cd_m2(ev100) == pytest.approx(0.18, rel=1e-5)


def test_the_pictures_order_makes_no_difference_at_all():
    rng = np.random.default_rng(4)
    pictures = [rng.lognormal(k, 1, (30 + k, 40)).astype(np.float32) for k in range(4)]
    found = {automatic_ev100(order, WHITE) for order in itertools.permutations(pictures)}
    assert len(found) == 1


def test_highlights_stay_below_white_where_most_of_a_wall_is_in_shadow():
    rng = np.random.default_rng(5)
    lit = rng.random(10_000) < 0.1
    graze = np.where(lit, rng.uniform(150, 250, lit.size), 0.2)
    ev100 = automatic_ev100([graze], WHITE)
    assert np.mean(curve(graze / peak_cd_m2(ev100)) >= 1) <= 0.021
    # and not darker than that takes: the 98th percentile is white
    assert np.quantile(graze, 0.98) / peak_cd_m2(ev100) == pytest.approx(WHITE, rel=0.01)
