"""Throw across a ceiling: closed form of a long run below it."""

import numpy as np
import pytest

from rakelight.measure import MeasureSettings, fields, measure_surface
from rakelight.measure.throw import reach, throw
from rakelight.scene.frame import Frame
from rakelight.scene.intensity import Intensity
from rakelight.scene.lit_line import LightGroup, LitLine
from reference.made_surfaces import made_lit, made_surface

DEPTH = 0.3  # of the run below the ceiling


def ceiling(turned=False):
    """A ceiling 4 m across and 6 m along, seen from below: u x v = n points down."""
    down = np.array([0, 0, -1.0])
    if turned:
        frame = Frame(np.array([0, 0, 2.7]), np.array([0, 1.0, 0]), np.array([1.0, 0, 0]), down)
        return made_surface(61, 401, 4.0, 6.0, name="ceiling", frame=frame)
    frame = Frame(np.array([0, 4.0, 2.7]), np.array([1.0, 0, 0]), np.array([0, -1.0, 0]), down)
    return made_surface(401, 61, 6.0, 4.0, name="ceiling", frame=frame)


def cove(axis=(1.0, 0, 0), origin=(0, 4.0, 2.7 - DEPTH)):
    gamma = np.linspace(0, np.pi, 5)
    file = Intensity(
        np.linspace(0, 2 * np.pi, 3), gamma, np.ones((3, 5)), 1.0, 1.0, 0.02, 0, "made"
    )
    return LitLine(
        "C1", "ceiling", np.array(origin), np.array(axis), np.array([0, 0, 1.0]),
        np.array([0, -1.0, 0]), np.array(axis), np.array([[0.0, 6.0]]), 0.02, file, 1.0, 10.0,
    )  # fmt: skip


def test_isotropic_run_below_a_ceiling():
    # E = (pi/2) I d / (d^2 + y^2): half at y = d, a tenth at y = 3 d (closed form)
    surface = ceiling()
    y = surface.grid.v_m()
    lit = made_lit(surface, (1000 * DEPTH / (DEPTH**2 + y**2))[:, None])
    found = throw(fields(surface, lit), cove())
    assert found.peak_m == 0
    assert found.half_m == pytest.approx(DEPTH, rel=2e-3)
    assert found.tenth_m == pytest.approx(3 * DEPTH, rel=2e-3)
    group = LightGroup((cove(),), 1.0, 1.0, np.ones(3), 3000.0)
    numbers = measure_surface(surface, lit, MeasureSettings(groups=(group,)))
    values = {n.key: n.value for n in numbers}
    assert values["ceiling.throw.C1.half_m"] == found.half_m


def test_a_run_along_the_other_axis_reaches_as_far():
    surface = ceiling(turned=True)
    y = 4.0 - surface.grid.u_m()  # u runs toward the wall with the run
    lit = made_lit(surface, (1000 * DEPTH / (DEPTH**2 + y**2))[None, :])
    found = throw(fields(surface, lit), cove())
    assert found.half_m == pytest.approx(DEPTH, rel=2e-3)


def test_light_that_never_falls_so_far_has_no_throw():
    y = np.linspace(0, 2, 201)
    found = reach(y, 100 - 20 * y)
    assert np.isnan(found.half_m)
    assert np.isnan(found.tenth_m)
    humps = reach(y, np.where(y < 0.5, 100.0, np.where(y < 1.5, 60.0, 20.0)))
    assert humps.half_m == pytest.approx(1.5, abs=0.02)  # the last time, not the first


def test_a_slanted_run_or_one_beside_the_surface_has_none():
    surface = ceiling()
    light = fields(surface, made_lit(surface, 100.0))
    slanted = cove(axis=(np.sqrt(0.5), np.sqrt(0.5), 0))
    assert throw(light, slanted) is None
    assert throw(light, cove(origin=(20.0, 4.0, 2.4))) is None
