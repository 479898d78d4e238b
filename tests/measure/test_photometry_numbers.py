import numpy as np
import pytest

from rakelight.measure.photometry import (
    across_c_rad,
    beam_width_rad,
    curve_in_plane,
    downward_share,
    photometric_numbers,
    scaled,
)
from rakelight.read.photometry import parse_photometry
from reference.photometric_texts import FILE_1, FILE_2, lm63


def parsed(text):
    return parse_photometry(text.encode(), "a.ies")


def values(intensity):
    return {n.key: n.value for n in photometric_numbers(intensity)}


def test_numbers_of_the_first_hand_made_file():
    v = values(parsed(FILE_1))
    assert v["lumens"] == pytest.approx(1741.263, rel=1e-6)
    assert v["efficacy"] == pytest.approx(1741.263 / 20, rel=1e-6)
    assert v["lumens_per_metre"] == pytest.approx(1741.263 / 1.2, rel=1e-6)
    assert v["watts_per_metre"] == pytest.approx(20 / 1.2)
    assert (v["peak"], v["peak_c"], v["peak_gamma"]) == pytest.approx((1350, 0, 30))
    assert v["throw_c"] == pytest.approx(0, abs=1e-6)
    assert v["downward"] == pytest.approx(1)


def test_what_the_file_does_not_say_is_nan():
    v = values(parsed(lm63(watts=0, size="0 0 0")))
    for key in ("watts", "efficacy", "watts_per_metre", "lumens_per_metre"):
        assert np.isnan(v[key])


def test_half_peak_width_of_a_triangle():
    # 0 at nadir, 1000 at 30 deg, 0 at 60 deg toward C90: half of the peak at 15 and 45 deg
    i = parsed(lm63(v=(0, 30, 60, 90), h=(90, 180, 270), candela="0 1000 0 0 0 0 0 0 0 0 0 0"))
    assert np.rad2deg(across_c_rad(i)) == pytest.approx(90)
    width = beam_width_rad(curve_in_plane(i, across_c_rad(i)))
    assert np.rad2deg(width) == pytest.approx(30, rel=1e-6)


def test_across_follows_the_throw_to_the_other_side():
    i = parsed(lm63(v=(0, 30, 60, 90), h=(90, 180, 270), candela="0 0 0 0 0 0 0 0 0 1000 0 0"))
    assert np.rad2deg(across_c_rad(i)) == pytest.approx(270)


def test_share_that_goes_down():
    both = parsed(lm63(v=(0, 90, 180), h=(0,), candela="100 100 100"))
    assert downward_share(both) == pytest.approx(0.5)
    # no angle at the horizontal: split there, on the line between its neighbours
    split = parsed(lm63(v=(0, 60, 120, 180), h=(0,), candela="100 100 100 100"))
    assert downward_share(split) == pytest.approx(0.5)
    assert downward_share(parsed(lm63(v=(90, 135, 180)))) == pytest.approx(0, abs=1e-8)


@pytest.mark.parametrize("text", [FILE_1, FILE_2])
def test_length_scales_light_power_and_opening(text):
    i = parsed(text)
    half = scaled(i, length_m=i.long_side_m / 2)
    assert half.lumens == pytest.approx(i.lumens / 2, rel=1e-12)
    assert half.watts == pytest.approx(i.watts / 2)
    assert half.long_side_m == pytest.approx(i.long_side_m / 2)
    assert half.short_side_m == i.short_side_m
    assert half.keywords[-1][0] == "OTHER"
    assert "Scaled from" in half.keywords[-1][1]
    down = np.array([0.1, 0.2, -np.sqrt(0.95)])
    assert half.candela_toward(down) == pytest.approx(i.candela_toward(down) / 2, rel=1e-12)


def test_lumens_come_after_the_length():
    i = scaled(parsed(FILE_1), length_m=0.6, lumens=1000)
    assert i.lumens == pytest.approx(1000, rel=1e-12)
    assert i.watts == pytest.approx(1000 / (1741.263 / 20), rel=1e-6)
    assert len(i.keywords) == 4 + 2


@pytest.mark.parametrize("change", [{"length_m": 0.0}, {"lumens": -1.0}, {"lumens": np.nan}])
def test_senseless_scaling_is_refused(change):
    with pytest.raises(ValueError, match="must be above 0"):
        scaled(parsed(FILE_1), **change)


def test_a_point_has_no_length_to_scale():
    with pytest.raises(ValueError, match="no length to scale"):
        scaled(parsed(lm63(size="0 0 0")), length_m=1)
