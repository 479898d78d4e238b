"""White light: known chromaticities, and no jump where the loci change."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rakelight.scene.white import daylight_uv, planckian_uv, white_rgb, white_uv


# CIE 1931 2 degree observer, c2 = 1.4388e-2 m K: Planck's law summed at 1 nm
@pytest.mark.parametrize(
    ("cct_k", "u", "v"),
    [(2700, 0.26250, 0.52735), (3000, 0.25057, 0.52138), (3500, 0.23571, 0.51126),
     (4000, 0.22511, 0.50158), (5000, 0.21142, 0.48467), (6500, 0.20045, 0.46554)],
)  # fmt: skip
def test_full_radiators_lie_where_plancks_law_puts_them(cct_k, u, v):
    assert planckian_uv(cct_k) == pytest.approx((u, v), abs=0.0005)


# CIE 15 daylight locus
@pytest.mark.parametrize(("cct_k", "u", "v"), [(5000, 0.20914, 0.48816), (6500, 0.19782, 0.46843)])
def test_daylight_lies_where_cie_15_puts_it(cct_k, u, v):
    assert daylight_uv(cct_k) == pytest.approx((u, v), abs=0.0005)


# scaled to a maximum of 1; the same sums as above through IEC 61966-2-1
@pytest.mark.parametrize(
    ("cct_k", "rgb"),
    [(2700, (1.0, 0.4154, 0.0992)), (3000, (1.0, 0.4769, 0.1537)), (4000, (1.0, 0.6536, 0.3773)),
     (5000, (1.0, 0.8302, 0.6131)), (6500, (0.9993, 1.0, 0.9983))],
)  # fmt: skip
def test_linear_rec709_of_white_light(cct_k, rgb):
    white = white_rgb(cct_k)
    np.testing.assert_allclose(white / white.max(), rgb, atol=0.003)


@given(st.floats(1000, 20000))
def test_white_light_has_luminance_one_and_no_negative_part(cct_k):
    white = white_rgb(cct_k)
    assert white.min() >= 0
    assert np.array([0.2126, 0.7152, 0.0722]) @ white == pytest.approx(1, rel=1e-12)


def test_a_tunable_run_never_jumps():
    # the project's own limit for a visible step: 0.003 in u'v'; here over 10 K
    steps = np.array([white_uv(k) for k in np.arange(2000.0, 12000.0, 10.0)])
    assert np.hypot(*np.diff(steps, axis=0).T).max() < 0.0015


@pytest.mark.parametrize("cct_k", [999, 20001, float("nan"), -3000])
def test_a_temperature_out_of_range_is_refused(cct_k):
    with pytest.raises(ValueError, match="1000 and 20000"):
        white_rgb(cct_k)
