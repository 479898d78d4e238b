"""The sketch of a relief in raking light."""

import math

import numpy as np
import pytest

from rakelight.scene.grid import Grid
from rakelight.scene.relief import Relief
from rakelight.tell.relief_drawing import raking_view


def relief_of(heights, size):
    grid = Grid(heights.shape[0], heights.shape[1], *size)
    return Relief(
        heights.astype(np.float32), grid, np.ones(heights.shape, bool), -0.1, (0.1, 0.1), "made"
    )


def test_a_flat_wall_is_one_everywhere():
    np.testing.assert_allclose(raking_view(relief_of(np.zeros((20, 30)), (1, 1)), 0.2), 1)


def test_a_slope_facing_up_is_brighter_by_the_cosine():
    # heights fall with v: the face looks up toward the light
    v = np.linspace(0, 1, 101)[:, None] * np.ones(30)
    angle, tilt = math.radians(20), math.radians(10)
    view = raking_view(relief_of(-v * math.tan(tilt), (1, 1)), angle)
    assert view[50, 15] == pytest.approx(math.sin(angle + tilt) / math.sin(angle), rel=1e-3)


def test_a_ledge_throws_the_shadow_of_its_height():
    heights = np.zeros((1001, 5))
    heights[700:710] = 0.02
    angle = math.radians(10)
    dark = raking_view(relief_of(heights, (0.1, 1.0)), angle)[:700, 2] < 0.5
    # length h / tan(angle), a step or two for the edges
    assert dark.sum() * 0.001 == pytest.approx(0.02 / math.tan(angle), abs=0.003)
