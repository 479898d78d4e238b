"""A run in its cross-section: reach, least setback, peak, landing."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from rakelight.build.cross_section import (
    LEAST_CLEARANCE_M,
    Body2,
    cross_section_peak,
    landing,
    place,
    wrap,
)
from rakelight.scene.intensity import Intensity

BODY = Body2(opening_width_m=0.02, housing_width_m=0.03, housing_height_m=0.04)
TOWARD_C90 = np.array([0.0, 1.0, 0.0])
tilts = st.floats(-3.1, 3.1)


def file_with(intensity_of_phi, step=1.0):
    """Build a file whose intensity depends on the angle phi from nadir toward C90 alone."""
    c = np.radians([0, 90, 180, 270, 360])
    gamma = np.radians(np.arange(0, 180 + step / 2, step))
    degrees = np.degrees(gamma)
    middle = intensity_of_phi(0 * degrees)
    candela = np.stack(
        [middle, intensity_of_phi(degrees), middle, intensity_of_phi(-degrees), middle]
    )
    return Intensity(c, gamma, candela, 10.0, 1.2, 0.02, 0.0, "made.ies")


@given(tilts)
def test_reach_and_foot_are_those_of_the_turned_corners(tilt):
    # every corner by hand: sideways a, back h, turned so that nadir moves toward the wall
    corners = [
        (a * math.cos(tilt) - h * math.sin(tilt), a * math.sin(tilt) + h * math.cos(tilt))
        for a, h in [(0.015, 0), (-0.015, 0), (0.015, 0.04), (-0.015, 0.04), (0.01, 0), (-0.01, 0)]
    ]
    assert BODY.reach_m(tilt) == pytest.approx(max(a for a, _ in corners), abs=1e-15)
    assert BODY.foot_m(tilt) == pytest.approx(-min(z for _, z in corners), abs=1e-15)


def test_a_tilt_toward_the_wall_leans_the_housing_away_from_it():
    assert BODY.reach_m(0) == 0.015
    assert BODY.reach_m(math.radians(20)) < 0.015
    assert BODY.reach_m(math.radians(-20)) > 0.015


@given(tilt=st.floats(-1.5, 1.5), highest=st.floats(0, 0.1), height=st.floats(1, 10))
def test_against_is_the_least_setback_that_clears(tilt, highest, height):
    found = place(None, tilt, None, file_peak_rad=0.1, body=BODY, highest_m=highest,
                  opening_height_m=height)  # fmt: skip
    assert found.setback_m == found.least_setback_m
    gap = found.setback_m - BODY.reach_m(tilt) - highest
    assert gap == pytest.approx(LEAST_CLEARANCE_M, abs=1e-12)


@given(peak=st.floats(-1, 1), highest=st.floats(0, 0.1), height=st.floats(0.5, 10))
def test_against_with_the_peak_at_the_base_satisfies_both(peak, highest, height):
    found = place(None, None, "base", file_peak_rad=peak, body=BODY, highest_m=highest,
                  opening_height_m=height)  # fmt: skip
    assert found.setback_m == pytest.approx(found.least_setback_m, abs=1e-9)
    assert math.tan(found.beam_aim_rad) == pytest.approx(found.setback_m / height, abs=1e-8)


# beam aim at the base = atan(setback / height); degrees, re-derived
@pytest.mark.parametrize(
    ("setback_in", "height_in", "degrees"),
    [(30, 108, 15.5241), (36, 108, 18.4349), (24, 108, 12.5288), (6, 108, 3.1798),
     (3, 108, 1.5911), (12, 120, 5.7106), (36, 144, 14.0362)],
)  # fmt: skip
def test_the_aim_at_the_base(setback_in, height_in, degrees):
    found = place(setback_in * 0.0254, None, "base", file_peak_rad=0.2, body=BODY, highest_m=0,
                  opening_height_m=height_in * 0.0254)  # fmt: skip
    assert math.degrees(found.beam_aim_rad) == pytest.approx(degrees, abs=1e-4)
    assert found.tilt_rad == pytest.approx(found.beam_aim_rad - 0.2)
    on, at = landing(setback_in * 0.0254, height_in * 0.0254, found.beam_aim_rad,
                     across_room_m=5, room_height_m=height_in * 0.0254 + 0.1)  # fmt: skip
    assert (on, at) == ("wall", pytest.approx(0, abs=1e-9))


@given(tilt=tilts, aim=tilts, peak=st.floats(-3, 3))
def test_tilt_and_beam_aim_are_one_turn_apart(tilt, aim, peak):
    kind = dict(file_peak_rad=peak, body=BODY, highest_m=0, opening_height_m=2.5)
    by_tilt = place(1.0, tilt, None, **kind)
    assert by_tilt.tilt_rad == tilt
    assert wrap(by_tilt.beam_aim_rad - by_tilt.tilt_rad - peak) == pytest.approx(0, abs=1e-9)
    by_aim = place(1.0, None, aim, **kind)
    assert wrap(by_aim.beam_aim_rad - aim) == pytest.approx(0, abs=1e-9)
    again = place(1.0, by_aim.tilt_rad, None, **kind)
    assert wrap(again.beam_aim_rad - aim) == pytest.approx(0, abs=1e-9)


@given(setback=st.floats(0.05, 3), height=st.floats(0.1, 2.9), aim=tilts)
def test_a_direction_lands_where_its_line_meets_the_box(setback, height, aim):
    assume(abs(math.sin(aim)) > 1e-3 and abs(math.cos(aim)) > 1e-3)
    on, at = landing(setback, height, aim, across_room_m=3.6, room_height_m=3.0)
    point = {"wall": (0, at), "far wall": (3.6, at), "floor": (at, 0), "ceiling": (at, 3.0)}[on]
    assert -1e-6 <= point[0] <= 3.6 + 1e-6
    assert -1e-6 <= point[1] <= 3.0 + 1e-6
    away, up = point[0] - setback, point[1] - height
    # parallel to the aim, and the same way
    assert away * math.cos(aim) - up * math.sin(aim) == pytest.approx(0, abs=1e-6)
    assert -away * math.sin(aim) - up * math.cos(aim) > 0


@pytest.mark.parametrize(
    ("curve", "degrees"),
    [
        (lambda p: np.exp(-(((p - 12) / 8) ** 2)), 12),
        (lambda p: np.exp(-(((p + 20) / 8) ** 2)), -20),
        (lambda p: np.full_like(p, 100.0), 0),  # the same everywhere
        (lambda p: np.maximum(np.cos(np.radians(p)), 0), 0),
        (lambda p: np.where((p >= 20) & (p <= 30), 5.0, 1.0), 25),  # a flat top
        (lambda p: np.exp(-(((np.abs(p) - 30) / 8) ** 2)), 30),  # two alike: the wall's
    ],
)
def test_the_peak_across_a_run(curve, degrees):
    assert math.degrees(cross_section_peak(file_with(curve), TOWARD_C90)) == pytest.approx(
        degrees, abs=1e-6
    )


def test_turning_the_file_turns_its_peak_away():
    file = file_with(lambda p: np.exp(-(((p - 12) / 8) ** 2)))
    assert math.degrees(cross_section_peak(file, -TOWARD_C90)) == pytest.approx(-12, abs=1e-6)
