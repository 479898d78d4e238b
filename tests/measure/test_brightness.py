"""How bright ridges look: exact section light, seen square-on and from 30 degrees."""

import numpy as np
import pytest

from rakelight.measure.brightness import brightness_along, brightness_toward, seen_mean
from rakelight.measure.fields import fields
from reference.made_surfaces import made_lit, made_surface
from reference.ridge_section import section

# a and wavelength, degrees below the normal: relief over flat wall, 1 m below an endless line,
# for setbacks of 50, 150, 300 and 762 mm (re-derived by exact section)
SHARES = {
    (0.003, 0.06, 0): (0.993, 0.978, 0.980, 0.977),
    (0.003, 0.06, 30): (0.871, 0.847, 0.889, 0.941),
    (0.003, 0.06, -30): (1.115, 1.110, 1.071, 1.013),
    (0.005, 0.05, 0): (0.847, 0.869, 0.883, 0.917),
    (0.005, 0.05, 30): (0.681, 0.635, 0.644, 0.786),
    (0.005, 0.05, -30): (1.015, 1.106, 1.125, 1.049),
}
SETBACKS_M = (0.05, 0.15, 0.3, 0.762)


def ridged(amplitude_m, wavelength_m, setback_m, periods=4, depth_m=1.0):
    below = np.arange(0.01, depth_m + periods * wavelength_m / 2 + 1e-9, 0.00025)
    found = section(below, setback_m, amplitude_m, wavelength_m)
    rows = below >= depth_m - periods * wavelength_m / 2 - 1e-9
    heights, relief, flat = (
        a[rows][::-1][:, None] for a in (found.heights_m, found.relief_lx, found.flat_lx)
    )
    tall = float(np.ptp(below[rows]))
    wall = made_surface(heights.size, 3, 0.2, tall, heights, (np.inf, wavelength_m))
    return wall, fields(wall, made_lit(wall, relief, flat))


@pytest.mark.parametrize(("case", "shares"), SHARES.items())
def test_share_of_a_flat_wall_by_view(case, shares):
    amplitude, wavelength, degrees = case
    for setback, share in zip(SETBACKS_M, shares, strict=True):
        _, light = ridged(amplitude, wavelength, setback)
        seen = brightness_along(light, np.radians(degrees))
        assert seen.share == pytest.approx(share, rel=0.011)
        if degrees == 0:
            assert seen.square_on_share == pytest.approx(seen.share, rel=1e-3)
        assert seen.share == pytest.approx(seen.square_on_share * seen.view_share)


def test_from_below_a_wash_keeps_more_of_its_brightness_than_a_graze():
    for amplitude, wavelength in ((0.003, 0.06), (0.005, 0.05)):
        graze, middle, _, wash = (
            brightness_along(ridged(amplitude, wavelength, s)[1], np.radians(30)).share
            for s in SETBACKS_M
        )
        assert wash > graze
        assert wash > middle


def test_a_far_eye_sees_what_parallel_sight_sees():
    wall, light = ridged(0.005, 0.05, 0.15)
    middle = wall.grid.height_m / 2
    far = 400.0
    for degrees in (30, 0, -30):
        tilt = np.radians(degrees)
        eye = np.array([0.1, middle - far * np.sin(tilt), far * np.cos(tilt)])
        near = brightness_toward(light, eye)
        assert near.share == pytest.approx(brightness_along(light, tilt).share, rel=5e-3)


def test_a_flat_even_wall_looks_the_same_from_everywhere():
    wall = made_surface(201, 11, 1.0, 2.0, other_light_lx=0.0)
    light = fields(wall, made_lit(wall, 200.0))
    for eye in ((0.5, 1.0, 2.0), (0.2, 0.1, 0.5), (0.9, 5.0, 1.0), (0.5, -3.0, 4.0)):
        seen = brightness_toward(light, np.array(eye))
        assert seen.relief_cd_m2 == pytest.approx(0.5 * 200 / np.pi, rel=1e-5)
        assert seen.share == pytest.approx(1, rel=1e-6)


def test_a_nearby_eye_weighs_what_is_near_it():
    # light only in the upper half; from in front of the foot it fills less of the view
    wall = made_surface(401, 101, 1.0, 2.0)
    upper = (wall.grid.v_m() > 1.0).astype(float)[:, None] * 100
    light = fields(wall, made_lit(wall, upper))
    low = brightness_toward(light, np.array([0.5, 0.5, 0.5])).relief_cd_m2
    high = brightness_toward(light, np.array([0.5, 1.5, 0.5])).relief_cd_m2
    whole = 0.5 * 100 / np.pi
    assert low + high == pytest.approx(whole, rel=0.01)

    # solid angle of a rectangle by its corners, atan(ab / (d sqrt(a^2 + b^2 + d^2)))
    def corner(a, b, d=0.5):
        return np.arctan(a * b / (d * np.sqrt(a * a + b * b + d * d)))

    inside, wide = 2 * corner(0.5, 0.5), 2 * corner(0.5, 1.5)
    assert low / whole == pytest.approx((wide - inside) / (wide + inside), rel=0.01)


def test_hidden_parts_do_not_count_and_part_hidden_edges_count_in_part():
    # up to 1, back behind it to 0.5, and out again to 1.5: the last edge shows its upper half
    place = np.array([[0.0], [1.0], [0.5], [1.5]])
    light = np.array([[0], [0], [0], [100]], np.float32)
    # 1 of darkness and 0.5 with 50 to 100, mean 75
    assert seen_mean(light, place, np.ones(1)) == pytest.approx(0.5 * 75 / 1.5)
    black_behind = np.array([[100], [100], [-1e6], [100]], np.float32)
    fully = np.array([[0.0], [1.0], [0.5], [0.9]])
    assert seen_mean(black_behind, fully, np.ones(1)) == pytest.approx(100)


def test_an_eye_behind_the_relief_is_refused():
    _, light = ridged(0.005, 0.05, 0.15)
    with pytest.raises(ValueError, match="not in front"):
        brightness_toward(light, np.array([0.1, 1.0, 0.002]))
