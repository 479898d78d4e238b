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


def two_humps(second, at=4.0):
    """A narrow line of 1000 lx whose half is 0.1 m out, and a broad band around `at`."""
    y = np.linspace(0, 8, 1601)
    line = 1000 / (1 + (y / 0.1) ** 2)
    return y, line + second * np.exp(-(((y - at) / 1.0) ** 2))


@pytest.mark.parametrize(
    ("second", "half"),
    [
        (400.0, 0.1),
        (600.0, 4 + np.sqrt(np.log(600 / 500))),
        (900.0, 4 + np.sqrt(np.log(900 / 500))),
    ],
)
def test_a_narrow_line_and_a_broad_band_are_told_apart(second, half):
    # closed forms: half of a Lorentz line at its width, of a Gauss band at sqrt(ln) of its width
    found = reach(*two_humps(second))
    assert found.half_m == pytest.approx(half, abs=0.005)
    assert found.first_half_m == pytest.approx(0.1, abs=0.002)
    assert found.second_m == pytest.approx(4.0, abs=0.01)
    assert found.second_lx == pytest.approx(second, rel=0.01)


def test_one_hump_ripples_and_faint_far_light_are_no_second_maximum():
    y = np.linspace(0, 4, 801)
    for lx in (
        1000 / (1 + y**2),
        1000 / (1 + y**2) * (1 + 0.1 * np.cos(20 * y)),  # gaps in the run
        two_humps(60.0)[1],
    ):
        found = reach(np.linspace(0, 4, lx.size), lx)
        assert np.isnan(found.second_m)
        assert np.isnan(found.second_lx)
    smooth = reach(y, 1000 / (1 + y**2))
    assert smooth.first_half_m == pytest.approx(smooth.half_m)
