"""Illuminance by height, ripple at gaps, and electrical sums."""

import numpy as np
import pytest

from rakelight.measure import MeasureSettings, fields, measure_surface
from rakelight.measure.electrical import electrical
from rakelight.measure.profile import profile
from rakelight.measure.ripple import peak_to_trough, ripple
from rakelight.scene.intensity import Intensity
from rakelight.scene.lit_line import LightGroup, LitLine
from reference.made_surfaces import made_lit, made_surface


def lambertian(watts=18.0, peak_cd=500.0):
    gamma = np.linspace(0, np.pi, 181)
    candela = np.tile(peak_cd * np.maximum(np.cos(gamma), 0), (5, 1))
    return Intensity(np.linspace(0, 2 * np.pi, 5), gamma, candela, watts, 1.2, 0.02, 0, "made")


def run_with(lit_m, tag="R1", watts_per_metre=15.0):
    return LitLine(
        tag=tag,
        lights="main",
        origin_m=np.array([0.0, 3.0, 0.1]),
        axis=np.array([1.0, 0, 0]),
        nadir=np.array([0, -1.0, 0]),
        across=np.array([0, 0, -1.0]),
        c0=np.array([1.0, 0, 0]),
        lit_m=np.asarray(lit_m, float),
        opening_width_m=0.02,
        intensity=lambertian(),
        per_metre=1 / 1.2,
        watts_per_metre=watts_per_metre,
    )


def row_with_gaps(lit_m, gap_m, rho_m, u_m, lengths):
    """Light of lengths with gaps, I' = cos(axial angle): the closed form of each, summed."""
    pitch = lit_m + gap_m

    def f(x):
        return x / (2 * rho_m**2 * (rho_m**2 + x**2)) + np.arctan(x / rho_m) / (2 * rho_m**3)

    total = np.zeros_like(u_m)
    for k in range(-lengths, lengths):
        start = k * pitch + gap_m / 2
        total += f(start + lit_m - u_m) - f(start - u_m)
    return total


@pytest.mark.parametrize(
    ("lit_mm", "gap_mm", "percents"),
    [
        (300, 75, (88.3, 48.9, 14.3, 3.7, 0.00367)),
        (300, 200, (158, 125, 57.2, 22.2, 0.148)),
        (1200, 75, (76, 46.4, 24.4, 15.7, 2.77)),
        (1200, 200, (112, 95.3, 63.3, 43.8, 9.34)),
    ],
)
def test_ripple_of_an_endless_row(lit_mm, gap_mm, percents):
    # Fourier series of 1 / (rho^2 + u^2)^2, re-derived; here summed directly, at rho 50 ... 762
    pitch = (lit_mm + gap_mm) / 1000
    samples = 400
    u = np.arange(3 * samples) * pitch / samples
    for rho, percent in zip((0.05, 0.1, 0.2, 0.3, 0.762), percents, strict=True):
        light = row_with_gaps(lit_mm / 1000, gap_mm / 1000, rho, u, 120)
        found = 100 * peak_to_trough(light, samples)
        assert found == pytest.approx(percent, rel=0.01, abs=0.02)


def test_no_gap_no_ripple_and_the_fall_to_the_ends_is_none():
    u = np.arange(1000) / 100
    assert peak_to_trough(np.full(1000, 5.0), 100) == pytest.approx(0, abs=1e-12)
    assert peak_to_trough(10 + u, 100) < 1e-3
    assert np.isnan(peak_to_trough(np.zeros(1000), 100))
    assert np.isnan(peak_to_trough(np.ones(90), 100))
    # one gap: a line of one pitch, divided by its own mean
    assert peak_to_trough(1 + 0.2 * np.cos(2 * np.pi * u[:101]), 100) == pytest.approx(
        0.4, rel=0.01
    )


def test_ripple_fades_down_the_wall_and_a_whole_run_has_none():
    lit = [(k * 1.275, k * 1.275 + 1.2) for k in range(5)]
    wall = made_surface(109, 641, 6.4, 2.7)
    u, v = wall.grid.u_m(), wall.grid.v_m()
    rows = []
    for height in v:
        rho = np.hypot(0.1, 3.0 - height)
        f = [
            (x / (2 * rho**2 * (rho**2 + x**2)) + np.arctan(x / rho) / (2 * rho**3))
            for x in ([e - u for ab in lit for e in ab])
        ]
        rows.append(100 * rho * sum(f[2 * k + 1] - f[2 * k] for k in range(5)))
    light = fields(wall, made_lit(wall, np.array(rows)))
    found = ripple(light, run_with(lit), np.array([1.0, 2.0, 2.7]))
    assert found.pitch_m == pytest.approx(1.275)
    assert found.ripple[0] < found.ripple[1] < found.ripple[2]
    # 75 mm gap between 1.2 m lengths at rho 316 mm: a little under the 15.7 % at 300 mm
    assert found.ripple[2] == pytest.approx(0.15, abs=0.02)
    assert found.worst[1] == 2.7
    assert ripple(light, run_with([(0, 6.3)]), np.array([1.0])) is None


def test_profile_finds_the_bright_band():
    # a cosine strip facing down is brightest s / sqrt 2 below itself (closed form)
    setback = 0.6
    wall = made_surface(541, 5, 1.0, 2.7)
    below = 2.75 - wall.grid.v_m()
    strip = 1000 * setback * below / (setback**2 + below**2) ** 1.5
    curve = profile(fields(wall, made_lit(wall, strip[:, None])))
    peak, low, high = curve.bright_band_m()
    assert curve.band_m <= 0.05
    assert peak == pytest.approx(2.75 - setback / np.sqrt(2), abs=0.05)
    half = strip.max() / 2
    lit = wall.grid.v_m()[strip >= half]
    assert low == pytest.approx(lit[0], abs=0.03)
    assert high == pytest.approx(lit[-1], abs=0.03)


def test_profile_keeps_relief_and_plane_apart():
    wall = made_surface(55, 5, 1.0, 2.7, 0.002 * np.cos(np.arange(55))[:, None])
    curve = profile(fields(wall, made_lit(wall, 80.0, 100.0)))
    np.testing.assert_allclose(curve.flat_lx, 100, rtol=1e-6)
    np.testing.assert_allclose(curve.relief_lx, 80, rtol=1e-6)


def test_electrical_sums():
    white = np.ones(3)
    line = run_with([(0, 1.2), (1.3, 2.5)])
    groups = (
        LightGroup((line,), 0.5, 0.8, white, 3000.0),
        LightGroup((run_with([(0, 1.0)], watts_per_metre=20.0),), 1.0, 1.0, white, 3000.0),
    )
    found = electrical(groups)
    flux = np.pi * 500 / 1.2  # Lambertian: pi x peak candela, for each metre
    assert found.lit_length_m == pytest.approx(3.4)
    assert found.watts == pytest.approx(2.4 * 15 + 20)
    assert found.watts_dimmed == pytest.approx(1.2 * 15 + 20)
    assert found.lumens == pytest.approx(3.4 * flux, rel=1e-3)
    assert found.lumens_given == pytest.approx((2.4 * 0.4 + 1.0) * flux, rel=1e-3)
    assert found.lumens_per_watt == pytest.approx(3.4 * flux / 56, rel=1e-3)
    assert electrical(groups, lights="ceiling").lit_length_m == 0


def test_unknown_watts_stay_unknown():
    found = electrical((LightGroup((run_with([(0, 1)], watts_per_metre=np.nan),), 1, 1, None, 0),))
    assert np.isnan(found.watts)
    assert np.isnan(found.lumens_per_watt)
    assert found.lumens > 0


def test_runs_show_up_in_the_surface_numbers_by_tag():
    lit = [(k * 1.275, k * 1.275 + 1.2) for k in range(5)]
    wall = made_surface(109, 641, 6.4, 2.7)
    group = LightGroup((run_with(lit),), 1.0, 1.0, np.ones(3), 3000.0)
    even = made_lit(wall, 100.0)
    found = {n.key: n for n in measure_surface(wall, even, MeasureSettings(groups=(group,)))}
    assert found["main.ripple.R1.mid_height"].value == pytest.approx(0, abs=1e-6)
    assert found["main.watts"].value == pytest.approx(90)
    assert found["main.watts_per_m2"].value == pytest.approx(90 / (6.4 * 2.7))
