"""Area values and the meter grid: closed forms, the standard's spacing, and where they part."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.measure import MeasureSettings, fields, measure_surface
from rakelight.measure.area import area_values, band_max_to_min, largest_gradient
from rakelight.measure.grid import at_points, grid_counts, grid_spacing_m, meter_grid
from rakelight.scene.grid import Grid
from reference.made_surfaces import made_lit, made_surface


def by_key(numbers):
    found = {n.key: n.value for n in numbers}
    assert len(found) == len(numbers)  # no key twice
    return found


def finite_line_lx(u, below, setback, length, cd_per_m=1000.0):
    """Cosine line from 0 to `length`, centred on the wall: E = I s rho [F(u2) - F(u1)]."""
    rho = np.hypot(setback, below)

    def f(x):
        return x / (2 * rho**2 * (rho**2 + x**2)) + np.arctan(x / rho) / (2 * rho**3)

    return cd_per_m * setback * rho * (f(length - u) - f(-u))


@pytest.mark.parametrize(
    ("width_m", "height_m", "spacing_m", "counts"),
    [
        (4.8, 2.7, 0.59868, (9, 5)),
        (3, 3, 0.43105, (7, 7)),
        (12, 4, 0.52705, (23, 8)),
        (30, 12, 1.1359, (27, 11)),
        (3.8, 1.7, 0.28981, (14, 6)),
        (3.8, 2.6, 0.50849, (8, 6)),
        (9, 7, 0.929, (10, 8)),
        (100, 60, 5, (20, 12)),
    ],
)
def test_spacing_and_points_of_the_standard(width_m, height_m, spacing_m, counts):
    # EN 12464-1:2011, p = 0.2 x 5^(log10 d), points rounded up
    assert grid_spacing_m(width_m, height_m) == pytest.approx(spacing_m, rel=2e-5)
    assert grid_counts(width_m, height_m, grid_spacing_m(width_m, height_m)) == counts


def test_the_spacing_never_passes_10_m():
    assert grid_spacing_m(1, 1) == pytest.approx(0.2)
    assert grid_spacing_m(269.57, 269.57) == pytest.approx(10, rel=1e-4)
    assert grid_spacing_m(1000, 1000) == 10


def test_uniformity_and_diversity_of_four_readings():
    # 105, 88, 53, 37: average 70.75, U0 0.52297, max:min 2.8378
    wall = made_surface(5, 2, 0.5, 2.0)
    readings = np.interp(np.linspace(0, 2, 5), [0.25, 0.75, 1.25, 1.75], [37, 53, 88, 105])
    grid = meter_grid(fields(wall, made_lit(wall, readings[:, None])), spacing_m=0.5)
    assert (grid.across, grid.up) == (1, 4)
    wall = made_surface(401, 2, 0.5, 2.0)
    steps = np.array([37, 53, 88, 105.0])[np.minimum((wall.grid.v_m() / 0.5).astype(int), 3)]
    grid = meter_grid(fields(wall, made_lit(wall, steps[:, None])), spacing_m=0.5)
    assert grid.average_lx == pytest.approx(70.75)
    assert grid.uniformity == pytest.approx(0.52297, abs=1e-5)
    assert grid.max_to_min == pytest.approx(2.8378, abs=1e-4)
    assert grid.rows()[0] == pytest.approx((0.25, 0.25, 37.0))


@pytest.mark.parametrize(
    ("setback_m", "area_lx", "grid_lx", "warns"), [(0.05, 885, 237, True), (0.762, 641, 643, False)]
)
def test_a_graze_slips_between_the_meter_points(setback_m, area_lx, grid_lx, warns):
    # flat 4.8 x 2.7 m wall, cosine line along its top (a hair below it would be the same)
    wall = made_surface(1081, 193, 4.8, 2.7)
    u, v = wall.grid.u_m()[None, :], wall.grid.v_m()[:, None]
    lit = made_lit(wall, finite_line_lx(u, 2.7 - v, setback_m, 4.8))
    found = by_key(measure_surface(wall, lit))
    assert found["main.average_lx"] == pytest.approx(area_lx, abs=3)
    assert found["main.grid.average_lx"] == pytest.approx(grid_lx, abs=1)
    assert bool(found["main.grid.misses_light"]) is warns


def test_a_plane_of_light_is_integrated_exactly():
    wall = made_surface(5, 9, 3.0, 2.0)
    u, v = wall.grid.u_m()[None, :], wall.grid.v_m()[:, None]
    light = fields(wall, made_lit(wall, 10 + 4 * u + 7 * v))
    values = area_values(light.total_lx, light.plane_m2, wall.grid.u_m(), wall.grid.v_m())
    assert values.average_lx == pytest.approx(10 + 6 + 7, rel=1e-6)
    assert light.plane_m2.sum() == pytest.approx(6)
    assert (values.max_u_m, values.max_v_m) == (3.0, 2.0)
    assert (values.min_lx, values.max_lx) == (10, 36)
    assert largest_gradient(light)[0] == pytest.approx(np.hypot(4, 7), rel=1e-5)


def test_a_relief_is_weighed_by_its_true_area_and_the_plane_by_its_own():
    # a wedge: half of the wall flat, half at 45 degrees; light 100 and 200 lx per true area
    grid = Grid(3, 3, 2.0, 2.0)
    wall = made_surface(3, 3, 2.0, 2.0, np.array([[0, 0, 1.0]]))
    light = fields(wall, made_lit(wall, np.array([[100, 100, 200.0]]), 120.0))
    assert light.plane_m2.sum() == pytest.approx(4)
    assert light.true_m2.sum() == pytest.approx(2 + 2 * np.sqrt(2))
    values = area_values(light.total_lx, light.true_m2, grid.u_m(), grid.v_m())
    expected = (2 * 100 + 2 * np.sqrt(2) * 150) / (2 + 2 * np.sqrt(2))
    assert values.average_lx == pytest.approx(expected, rel=1e-6)
    found = by_key(measure_surface(wall, made_lit(wall, np.array([[100, 100, 200.0]]), 120.0)))
    assert found["main.average_lx"] == pytest.approx(expected, rel=1e-6)
    assert found["main.true_area_ratio"] == pytest.approx((1 + np.sqrt(2)) / 2)
    assert found["main.caught_lx"] == pytest.approx((2 * 100 + 2 * np.sqrt(2) * 150) / 4)
    assert found["main.flat.average_lx"] == pytest.approx(120)
    assert found["main.max_to_min"] == pytest.approx(1)  # of the mean plane: no black hollows
    assert found["main.grid.average_lx"] == pytest.approx(120)  # a meter reads the mean plane


def test_areas_and_readings_follow_the_one_triangulation():
    # one corner up: the cell's diagonal runs from lower left to upper right, so only the
    # lower right triangle leans and only it knows that corner's light
    wall = made_surface(2, 2, 1.0, 1.0, np.array([[0, 1.0], [0, 0]]))
    light = fields(wall, made_lit(wall, 1.0))
    lean, level = np.sqrt(3) / 2, 0.5
    expected = np.array([[lean + level, lean], [level, lean + level]]) / 3
    np.testing.assert_allclose(light.true_m2, expected)
    corner = np.array([[0, 1], [0, 0]], np.float32)
    read = at_points(corner, wall.grid, np.array([0.75, 0.25]), np.array([0.25, 0.75]))
    np.testing.assert_allclose(read, [0.5, 0])


def test_a_gable_counts_only_what_is_inside_it():
    corners = np.array([[0, 0], [4, 0], [4, 2], [2, 3], [0, 2]], float)
    wall = made_surface(61, 81, 4.0, 3.0, corners_uv_m=corners)
    v = wall.grid.v_m()[:, None]
    light = fields(wall, made_lit(wall, 1.0 + v))
    assert light.plane_m2.sum() == pytest.approx(10, rel=2e-3)
    # centroid height of the gable: (8 x 1 + 2 x 7/3) / 10
    values = area_values(light.total_lx, light.plane_m2, wall.grid.u_m(), wall.grid.v_m())
    assert values.average_lx == pytest.approx(1 + (8 + 14 / 3) / 10, rel=2e-3)
    grid = meter_grid(light, spacing_m=0.5)
    assert grid.illuminance_lx.size < grid.across * grid.up
    assert np.all(grid.v_m <= 3 - np.abs(grid.u_m - 2) / 2)


def test_a_masked_out_area_does_not_count():
    mask = np.ones((41, 41), bool)
    mask[:20] = False
    wall = made_surface(41, 41, 1.0, 1.0, 0.001 * np.eye(41), mask=mask)
    dark = np.where(mask, 50.0, 0.0)
    found = by_key(measure_surface(wall, made_lit(wall, dark, dark)))
    assert found["main.average_lx"] == pytest.approx(50, rel=1e-6)
    assert found["main.min_lx"] == 50


def test_max_to_min_leaves_out_the_margin_and_says_so():
    wall = made_surface(271, 3, 1.0, 2.7)
    v = wall.grid.v_m()[:, None]
    light = np.where(v > 2.5, 1000.0, 20 + 10 * v)
    ratio, low, high = band_max_to_min(fields(wall, made_lit(wall, light)), 0.3, 0.3)
    assert (low, high) == pytest.approx((0.3, 2.4))
    assert ratio == pytest.approx(44 / 23, rel=1e-5)
    with pytest.raises(ValueError, match="leave nothing"):
        band_max_to_min(fields(wall, made_lit(wall, light)), 1.4, 1.4)


def test_max_to_min_of_black_has_no_limit():
    wall = made_surface(271, 3, 1.0, 2.7)
    light = np.where(wall.grid.v_m()[:, None] > 1, 100.0, 0.0)
    assert by_key(measure_surface(wall, made_lit(wall, light)))["main.max_to_min"] == np.inf


def test_dim_scales_light_and_leaves_ratios():
    wall = made_surface(109, 21, 4.8, 2.7, 0.004 * np.cos(np.arange(109))[:, None])
    rng = np.random.default_rng(8)
    direct = 50 + 100 * rng.random((109, 21))
    flat = np.full((109, 21), 100.0) + wall.grid.v_m()[:, None]
    full = measure_surface(wall, made_lit(wall, direct, flat))
    dimmed = measure_surface(wall, made_lit(wall, direct, flat, output=0.37))
    assert [n.key for n in full] == [n.key for n in dimmed]
    for one, other in zip(full, dimmed, strict=True):
        factor = 0.37 if one.unit in ("lx", "lx/m", "cd/m2") else 1
        assert other.value == pytest.approx(factor * one.value, rel=2e-5, abs=1e-7), one.key


def test_other_light_is_counted_on_the_mean_plane():
    wall = made_surface(11, 11, 1.0, 1.0, 0.001 * np.eye(11), other_light_lx=30.0)
    light = fields(wall, made_lit(wall, 60.0, 100.0))
    np.testing.assert_allclose(light.flat_lx, 130)
    np.testing.assert_allclose(light.total_lx, 90)


def test_bounced_light_reaches_the_mean_plane_in_full_where_it_is_known():
    wall = made_surface(41, 41, 1.0, 1.0, 0.001 * np.eye(41))
    inside = 30 + 10 * np.eye(41)  # hollows receive less of the room
    lit = made_lit(wall, 60.0, 100.0, inside)
    light = fields(wall, lit)
    np.testing.assert_allclose(light.total_lx, 60 + inside)
    # unknown on the plane: the mean over a feature stands in
    assert light.flat_lx[10:-10, 10:-10].mean() == pytest.approx(100 + inside.mean(), rel=5e-3)
    known = replace(lit, flat_bounced_lx={"main": np.full((41, 41), 44, np.float32)})
    np.testing.assert_allclose(fields(wall, known).flat_lx, 144)


def test_what_does_not_fit_is_refused():
    wall, other = made_surface(11, 11, 1.0, 1.0), made_surface(12, 11, 1.0, 1.0)
    with pytest.raises(ValueError, match="its grid is"):
        fields(wall, made_lit(other, 60.0))
    with pytest.raises(ValueError, match="no light computed"):
        fields(made_surface(11, 11, 1.0, 1.0, name="floor"), made_lit(wall, 60.0))
    with pytest.raises(ValueError, match="band_m"):
        MeasureSettings(band_m=0)
    with pytest.raises(ValueError, match="both must be above 0"):
        grid_spacing_m(0, 1)
