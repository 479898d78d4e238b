"""Texture and drama: closed forms on made patterns, and exact light on ridges."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rakelight.measure.fields import fields
from rakelight.measure.smooth import local_mean
from rakelight.measure.texture import texture
from reference.made_surfaces import made_lit, made_surface
from reference.ridge_section import section, zone_and_centres

TALL = 2.7


def striped(pattern_of_v, rows=2701, feature_m=0.03, flat_lx=100.0, height_m=TALL):
    """A wall whose light is flat_lx x pattern by height; the relief is there to have a depth."""
    v = np.linspace(0, height_m, rows)
    wall = made_surface(
        rows, 3, 0.2, height_m, 0.001 * np.cos(v)[:, None], (np.inf, feature_m), name="main"
    )
    flat = np.broadcast_to(flat_lx, v.shape)
    lit = made_lit(wall, (flat * pattern_of_v(v))[:, None], flat[:, None])
    return wall, lit


def ridged_wall(setback_m, step_m=0.0005):
    # ridges a 3, wavelength 60 mm, wall 0.05-2.70 m below the line
    below = np.arange(0.05, 2.7 + step_m / 2, step_m)
    found = section(below, setback_m, 0.003, 0.06)
    wall = made_surface(
        below.size, 3, 0.2, 2.65, found.heights_m[::-1][:, None], (np.inf, 0.06), name="main"
    )
    lit = made_lit(wall, found.relief_lx[::-1][:, None], found.flat_lx[::-1][:, None])
    return found, wall, lit


@pytest.mark.parametrize(
    ("share", "left"),
    [(1.0, 1.0), (0.5, 0.971553), (0.25, 0.708787)],
    ids=["sigma = period", "fwhm = period", "sigma = period / 4"],
)
@pytest.mark.parametrize("samples", [40, 400])
def test_the_gaussian_leaves_the_closed_form_share_of_a_sine(share, left, samples):
    # 1 - exp(-2 pi^2 sigma^2 / lambda^2), re-derived; sigma of the 2nd row is 1 / 2.354820
    sigma = share if share != 0.5 else 1 / 2.354820
    x = np.arange(20 * samples) / samples
    sine = np.sin(2 * np.pi * x).astype(np.float32)[:, None]
    rest = sine - local_mean(
        sine, np.ones_like(sine, bool), (2.354820 * sigma, 1.0), (1 / samples, 1.0)
    )
    middle = slice(5 * samples, 15 * samples)
    assert rest[middle].std() / sine[middle].std() == pytest.approx(left, rel=2e-3)


@pytest.mark.parametrize("width_m", [0.02, 0.3], ids=["narrow", "averaged in blocks"])
def test_the_local_mean_of_a_ramp_is_the_ramp_away_from_the_ends(width_m):
    v = np.linspace(0, 2.7, 1081, dtype=np.float32)[:, None] * np.ones((1, 50), np.float32)
    ramp = 1 + 0.5 * v
    mean = local_mean(ramp, np.ones_like(ramp, bool), (width_m, width_m), (0.0025, 0.0025))
    reach = int(2 * width_m / 0.0025)
    np.testing.assert_allclose(mean[reach:-reach], ramp[reach:-reach], rtol=2e-6)


@pytest.mark.parametrize("width_m", [0.02, 0.3])
def test_a_hole_in_the_mask_does_not_darken_the_mean_beside_it(width_m):
    even = np.full((300, 200), 7, np.float32)
    valid = np.ones_like(even, bool)
    valid[100:180, 60:120] = False
    even[~valid] = 1e6  # what lies in the hole must not count
    mean = local_mean(even, valid, (width_m, width_m), (0.0025, 0.0025))
    np.testing.assert_allclose(mean[valid], 7, rtol=1e-5)


@pytest.mark.parametrize(
    ("pattern", "rms"),
    [
        (lambda p: 1 + 0.6 * np.sin(p), 0.424264),
        (lambda p: 1 + 0.1 * np.sin(p), 0.0707107),
        (lambda p: np.where(np.sin(p) > 0, 1.5, 0.5), 0.5),
        (lambda p: np.where(p % (2 * np.pi) < np.pi / 2, 1.0, 0.2), 0.866025),
        (lambda p: 1 + 0.4 * np.sin(p) + 0.2 * np.sin(3 * p), 0.316228),
    ],
    ids=["sine 0.6", "sine 0.1", "square", "square, a quarter bright", "two sines"],
)
def test_contrast_is_the_rms_contrast_of_peli(pattern, rms):
    # standard deviation over mean, closed forms; the local mean over 3 periods leaves all of it
    wall, lit = striped(
        lambda v: pattern(2 * np.pi * (v + 0.000125) / 0.05), rows=10801, feature_m=0.15
    )
    found = texture(fields(wall, lit))
    middle = slice(8, -8)
    assert found.v_m.size == 54
    np.testing.assert_allclose(found.contrast[middle], rms, rtol=3e-3)
    assert found.contrast[middle].mean() == pytest.approx(rms, rel=2e-3)


def test_depth_zero_has_no_texture_at_all():
    light = np.random.default_rng(3).random((109, 1))
    wall = made_surface(109, 5, 0.4, 2.7, 0.0)
    # light of relief and plane differ in the last digit: still nothing to see
    found = texture(fields(wall, made_lit(wall, light * (1 + 1e-7), light)))
    assert np.all(found.modulation_cd_m2 == 0)
    assert np.all(found.contrast == 0)
    assert found.shadow_share == 0
    assert found.drama_zones_m == ()


def test_even_light_on_a_relief_is_exactly_zero():
    wall, lit = striped(lambda v: np.ones_like(v))
    assert np.all(texture(fields(wall, lit)).modulation_cd_m2 == 0)


def test_the_fall_of_the_light_down_the_wall_is_not_texture():
    below = 2.75 - np.linspace(0, TALL, 2701)
    fall = 1000 * 0.025 / (0.025**2 + below**2)
    wall, lit = striped(lambda v: np.ones_like(v), flat_lx=fall)
    assert np.all(texture(fields(wall, lit)).modulation_cd_m2 == 0)


def test_a_ramp_has_no_texture_away_from_the_ends():
    wall, lit = striped(lambda v: 1 + 0.3 * v)
    contrast = texture(fields(wall, lit)).contrast
    assert contrast[2:-2].max() < 1e-5


@settings(max_examples=20, deadline=None)
@given(k=st.floats(1e-3, 1e3))
def test_more_light_scales_the_drama_and_no_ratio(k):
    def pattern(v):
        return 1 + 0.5 * np.exp(-(((v - 1.4) / 0.3) ** 2)) * np.sin(2 * np.pi * v / 0.03)

    wall, lit = striped(pattern, rows=541)
    _, more = striped(pattern, rows=541, flat_lx=100.0 * k)
    one, other = texture(fields(wall, lit)), texture(fields(wall, more))
    np.testing.assert_allclose(
        other.modulation_cd_m2, k * one.modulation_cd_m2, atol=1e-6 * k * one.mean_cd_m2
    )
    np.testing.assert_allclose(other.contrast, one.contrast, atol=1e-6)
    np.testing.assert_allclose(other.over_mean, one.over_mean, atol=1e-6)
    assert other.drama_centre_m == pytest.approx(one.drama_centre_m, abs=1e-4)
    assert other.shadow_share == pytest.approx(one.shadow_share, abs=1e-6)


@pytest.mark.parametrize(
    ("at_m", "sigma_m", "low_m", "high_m", "centre_m"),
    [
        (1.4, 0.3, 1.0468, 1.7532, 1.39999),
        (2.5, 0.3, 2.1468, 2.7000, 2.37179),
        (0.2, 0.4, 0.0000, 0.6710, 0.403664),
        (1.35, 2.0, 0.0000, 2.7000, 1.35),
    ],
)
def test_drama_zone_and_centre_of_a_hump(at_m, sigma_m, low_m, high_m, centre_m):
    # sine of 30 mm whose modulation is a Gaussian of height; truncated normal, closed form
    def pattern(v):
        return 1 + 0.5 * np.exp(-((v - at_m) ** 2) / (2 * sigma_m**2)) * np.sin(
            2 * np.pi * v / 0.03
        )

    wall, lit = striped(pattern)
    found = texture(fields(wall, lit))
    ((low, high),) = found.drama_zones_m
    assert low == pytest.approx(low_m, abs=0.05)
    assert high == pytest.approx(high_m, abs=0.05)
    assert found.drama_centre_m == pytest.approx(centre_m, abs=0.010)
    assert found.zone_share == pytest.approx((high_m - low_m) / TALL, abs=0.04)


def test_two_humps_give_two_zones():
    def pattern(v):
        hump = np.exp(-(((v - 0.6) / 0.25) ** 2)) + np.exp(-(((v - 2.0) / 0.25) ** 2))
        return 1 + 0.4 * hump * np.sin(2 * np.pi * v / 0.03)

    wall, lit = striped(pattern)
    (low, high), (low_2, high_2) = texture(fields(wall, lit)).drama_zones_m
    assert (low + high) / 2 == pytest.approx(0.6, abs=0.05)
    assert (low_2 + high_2) / 2 == pytest.approx(2.0, abs=0.05)


def test_the_reference_section_agrees_with_the_published_form_of_a_flat_wall():
    # E = 2 I s / rho^2, constant candela, infinite (closed form): 100 mm, 0.5 m below
    found = section(np.array([0.1, 0.5]), 0.1, 0.0, 0.06)
    np.testing.assert_allclose(found.relief_lx, found.flat_lx)
    assert found.flat_lx[1] == pytest.approx(2000 * 0.1 / (0.1**2 + 0.5**2))


# centre of S in metres below the line, by whole relief period, re-derived by the exact section
CENTRES_M = {0.025: 0.35, 0.05: 0.45, 0.1: 0.61, 0.15: 0.73, 0.2: 0.83, 0.3: 0.97}
ZONE_FOOTS_M = {0.025: 0.14, 0.05: 0.14, 0.1: 0.32, 0.15: 0.50, 0.2: 0.68, 0.3: 1.10}


@pytest.mark.parametrize(("setback_m", "centre_m"), CENTRES_M.items())
def test_drama_centre_on_ridges(setback_m, centre_m):
    found, wall, lit = ridged_wall(setback_m)
    middles, s, _ = zone_and_centres(found, 0.06)
    assert (middles @ s) / s.sum() == pytest.approx(centre_m, abs=0.0051)
    ours = texture(fields(wall, lit))
    # bands of 50 mm about a local mean instead of whole periods about their own: the last
    # half-period under the ceiling, where most of it is, reads up to 20 mm lower
    assert 2.7 - ours.drama_centre_m == pytest.approx(centre_m, abs=0.02)
    ((low, high),) = ours.drama_zones_m
    assert 2.7 - high < 0.11
    # whole periods are 60 mm apart, bands 50 mm
    assert 2.7 - low == pytest.approx(ZONE_FOOTS_M[setback_m], abs=0.085)


def test_the_drama_moves_down_with_setback_and_contrast_is_below_the_middle():
    walls = [ridged_wall(s)[1:] for s in CENTRES_M]
    found = [texture(fields(wall, lit)) for wall, lit in walls]
    heights = [t.drama_centre_m for t in found]
    assert all(a > b + 0.05 for a, b in pairwise(heights))
    # C without bounced light grows down to the foot at every setback: no measure of drama
    for t in found:
        assert (t.contrast @ t.v_m) / t.contrast.sum() < 2.65 / 2


def test_a_coarser_mesh_finds_the_same_drama():
    fine, coarse = (
        texture(fields(*ridged_wall(0.1, step)[1:])).drama_centre_m for step in (0.0005, 0.0025)
    )
    assert coarse == pytest.approx(fine, abs=0.005)


@pytest.mark.parametrize(
    ("amplitude_m", "wavelength_m", "setback_m", "below_m", "share"),
    [
        (0.003, 0.06, 0.1, 1, 0.6434),
        (0.005, 0.05, 0.1, 2, 0.8356),
        (0.010, 0.12, 0.2, 1, 0.6009),
        (0.005, 0.05, 0.3, 1, 0.5388),
    ],
)
def test_share_in_shadow_of_sinusoidal_ridges(amplitude_m, wavelength_m, setback_m, below_m, share):
    # parallel-light limit of the self-shadow on y = a cos(2 pi z / lambda), re-derived; the
    # measure counts everything under a tenth of the flat wall's light, so also the lit edge
    # that only just turns to the light
    below = np.arange(0.02, below_m + wavelength_m, 0.0002)
    found = section(below, setback_m, amplitude_m, wavelength_m)
    rows = below > below_m - wavelength_m
    pick = [a[rows][::-1][:, None] for a in (found.heights_m, found.relief_lx, found.flat_lx)]
    tall = float(np.ptp(below[rows]))
    wall = made_surface(pick[0].size, 2, 0.1, tall, pick[0], (np.inf, wavelength_m))
    measured = texture(fields(wall, made_lit(wall, pick[1], pick[2]))).shadow_share
    assert share * 0.98 < measured < share * 1.02 + 0.03


def test_bounced_light_softens_contrast_but_not_the_drama():
    # fill in the divisor: S stays, C falls
    wall, lit = striped(lambda v: 1 + 0.5 * np.sin(2 * np.pi * v / 0.03))
    filled = made_surface(
        2701, 3, 0.2, TALL, wall.relief.heights_m, (np.inf, 0.03), other_light_lx=50.0
    )
    light = made_lit(filled, lit.direct_lx["main"][0], lit.flat_lx["main"][0])
    bare, soft = texture(fields(wall, lit)), texture(fields(filled, light))
    np.testing.assert_allclose(soft.modulation_cd_m2[1:-1], bare.modulation_cd_m2[1:-1], rtol=1e-3)
    np.testing.assert_allclose(soft.contrast[2:-2], bare.contrast[2:-2] / 1.5, rtol=5e-3)


def test_shadow_is_less_than_a_tenth_of_the_flat_walls_direct_light():
    wall = made_surface(109, 10, 0.9, 2.7, 0.001 * np.eye(109, 10), other_light_lx=500.0)
    # 3 of 9 cells' width in deep shadow, 2 in half-shade, the rest lit: other light is no matter
    share = np.array([[0.05, 0.05, 0.05, 0.05, 0.15, 0.15, 1, 1, 1, 1]])
    found = texture(fields(wall, made_lit(wall, 100 * share, 100.0)))
    assert found.shadow_share == pytest.approx(3.5 / 9, rel=1e-3)
    np.testing.assert_allclose(found.shadow[1:-1], 3.5 / 9, rtol=0.02)


# centre of C in metres below the line, with a fill of this share of the wall's mean direct light
FILLED_M = {
    0.02: (1.40, 1.44, 1.52, 1.59, 1.63, 1.69),
    0.1: (1.16, 1.22, 1.34, 1.43, 1.50, 1.59),
    0.5: (0.87, 0.94, 1.08, 1.19, 1.27, 1.38),
}


@pytest.mark.parametrize(("fill", "centres_m"), FILLED_M.items())
def test_a_room_that_fills_lifts_the_contrast_and_leaves_the_drama(fill, centres_m):
    for setback, centre in zip(CENTRES_M, centres_m, strict=True):
        found, bare, bare_lit = ridged_wall(setback)
        other = float(fill * found.relief_lx.mean())
        wall = made_surface(
            bare.grid.rows,
            3,
            0.2,
            2.65,
            bare.relief.heights_m,
            (np.inf, 0.06),
            other_light_lx=other,
        )
        lit = made_lit(wall, bare_lit.direct_lx["main"][0], bare_lit.flat_lx["main"][0])
        ours = texture(fields(wall, lit))
        middle = 2.7 - (ours.contrast @ ours.v_m) / ours.contrast.sum()
        assert middle == pytest.approx(centre, abs=0.021)
        assert ours.drama_centre_m == pytest.approx(
            texture(fields(bare, bare_lit)).drama_centre_m, abs=0.002
        )
