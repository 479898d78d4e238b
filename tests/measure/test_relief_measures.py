"""What a relief is like, against shapes whose answer is known."""

import math

import numpy as np
import pytest

from rakelight.measure.relief import measure_relief
from rakelight.scene.grid import Grid
from rakelight.scene.relief import Relief


def relief_of(function, *, size=(1.0, 0.5), step=0.005, backing=-0.05, mask=None):
    grid = Grid.with_step(*size, step)
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    heights = np.asarray(function(u, v), dtype=np.float32)
    valid = np.ones(heights.shape, bool) if mask is None else mask(u, v)
    return Relief(heights, grid, valid, backing, (0.1, 0.2), "made")


def values(relief):
    return {number.key.removeprefix("relief."): number.value for number in measure_relief(relief)}


def test_a_flat_wall_has_no_relief():
    found = values(relief_of(lambda u, v: 0 * u))
    assert found["depth_m"] == found["rms_height_m"] == found["highest_m"] == 0
    assert found["mean_slope_rad"] == found["steep_share"] == 0
    assert found["mean_above_backing_m"] == 0.05


def test_a_sine_has_the_rms_of_a_sine():
    # RMS a / sqrt(2); mean |slope| of a sine: 4 a / wavelength
    a, wavelength = 0.001, 0.1
    found = values(relief_of(lambda u, v: a * np.sin(2 * np.pi * u / wavelength), step=0.001))
    assert found["rms_height_m"] == pytest.approx(a / math.sqrt(2), rel=2e-3)
    assert found["depth_m"] == pytest.approx(2 * a, rel=2e-3)
    assert found["mean_slope_rad"] == pytest.approx(4 * a / wavelength, rel=5e-3)


@pytest.mark.parametrize(("slope", "steep"), [(0.9, 0.0), (1.1, 1.0)])
def test_a_plane_has_one_slope_on_every_triangle(slope, steep):
    found = values(relief_of(lambda u, v: slope * (0.6 * u + 0.8 * v)))
    assert found["mean_slope_rad"] == pytest.approx(math.atan(slope), rel=1e-4)
    assert found["steep_share"] == steep


def test_ridges_count_by_plan_area():
    # a quarter of the wall rises at 2:1, the rest is flat
    found = values(relief_of(lambda u, v: 2 * np.clip(u - 0.75, 0, None)))
    assert found["steep_share"] == pytest.approx(0.25)
    assert found["mean_slope_rad"] == pytest.approx(0.25 * math.atan(2), rel=1e-4)


def test_what_lies_outside_the_mask_is_left_out():
    spike = relief_of(lambda u, v: np.where(u > 0.5, 0.4 * v, 0.01), mask=lambda u, v: u < 0.45)
    found = values(spike)
    assert found["depth_m"] == 0
    assert found["mean_above_backing_m"] == pytest.approx(0.06, rel=1e-6)
    nothing = relief_of(lambda u, v: u, mask=lambda u, v: u < -1)
    with pytest.raises(ValueError, match="no part"):
        measure_relief(nothing)


def test_feature_size_and_step_are_passed_on():
    found = values(relief_of(lambda u, v: 0 * u))
    assert (found["feature_u_m"], found["feature_v_m"]) == (0.1, 0.2)
    assert found["step_m"] == pytest.approx(0.005)
