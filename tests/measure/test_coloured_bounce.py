"""Bounced light of three bands counts by its luminance on the mean plane too."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.measure import fields
from reference.made_surfaces import made_lit, made_surface


def test_coloured_bounced_light_stands_in_by_its_luminance():
    wall = made_surface(41, 41, 1.0, 1.0, 0.001 * np.eye(41))
    red = np.zeros((41, 41, 3), np.float32)
    red[..., 0] = 100.0
    lit = replace(made_lit(wall, 60.0, 100.0), bounced_lx={"main": red})
    light = fields(wall, lit)
    # ITU-R BT.709: red has 0.2126 of the luminance
    np.testing.assert_allclose(light.total_lx, 60 + 21.26, rtol=1e-5)
    assert light.flat_lx.mean() == pytest.approx(100 + 21.26, rel=1e-4)
