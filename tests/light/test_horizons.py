"""Horizons against a march along the surface itself."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from rakelight.light.horizon import half_turn, horizon_tangents
from rakelight.light.normals import vertex_normals
from rakelight.light.openness import open_moments
from rakelight.light.turned import turn_field, turn_frame, turn_vectors
from rakelight.scene.frame import Frame
from reference.grazed_walls import ledgestone

STEP = 0.0025
AZIMUTHS = half_turn(12)


def surface_height(field, row, column):
    """Height of the triangulated surface (cells cut lower left to upper right)."""
    i = np.minimum(row.astype(int), field.shape[0] - 2)
    j = np.minimum(column.astype(int), field.shape[1] - 2)
    f, g = row - i, column - j
    low, high = field[i, j], field[i + 1, j + 1]
    upper = low * (1 - f) + field[i + 1, j] * (f - g) + high * g
    lower = low * (1 - g) + field[i, j + 1] * (g - f) + high * f
    return np.where(f > g, upper, lower)


def marched(field, row, column, azimuth):
    """Largest tangent seen from a vertex, by small steps along the surface."""
    distance = np.arange(1, 3000) * 0.2
    r = row + np.cos(azimuth) * distance
    c = column + np.sin(azimuth) * distance
    inside = (r >= 0) & (r <= field.shape[0] - 1) & (c >= 0) & (c <= field.shape[1] - 1)
    if not inside.any():
        return np.nan
    r, c, distance = r[inside], c[inside], distance[inside]
    rise = surface_height(field, r, c) - field[row, column]
    return float((rise / (distance * STEP)).max())


@pytest.fixture(scope="module")
def rough():
    field = gaussian_filter(np.random.default_rng(2).standard_normal((260, 300)), 5)
    return (field * 0.01 / field.std()).astype(np.float32)


def errors(field, tangents):
    rng = np.random.default_rng(3)
    found = []
    for k, azimuth in enumerate(AZIMUTHS):
        rows, columns = rng.integers(20, 240, 60), rng.integers(20, 280, 60)
        for row, column in zip(rows, columns, strict=True):
            found.append(tangents[k, row, column] - marched(field, row, column, azimuth))
    return np.array(found)


def check(found):
    """Unbiased to 0.005, half of the vertices within 0.006; the tangents spread by 0.3."""
    assert abs(np.mean(found)) < 0.005
    assert np.median(np.abs(found)) < 0.006


def test_horizons_match_a_march_along_the_surface(rough):
    check(errors(rough, horizon_tangents(rough, STEP, STEP, AZIMUTHS)))


def test_horizons_shifted_by_half_a_cell_are_caught(rough):
    tangents = horizon_tangents(rough, STEP, STEP, AZIMUTHS)
    shifted = 0.5 * (tangents + np.roll(tangents, 1, axis=2))
    with pytest.raises(AssertionError):
        check(errors(rough, shifted))


def test_nothing_outside_the_wall_casts_a_shadow(rough):
    tangents = horizon_tangents(rough, STEP, STEP, AZIMUTHS)
    # above the top row there is nothing, except what slanting azimuths cross within the row
    assert np.all(tangents[AZIMUTHS.size // 2, -1] < -100)
    flat = np.zeros((40, 50), np.float32)
    assert horizon_tangents(flat, STEP, STEP, AZIMUTHS).max() <= 0


def test_horizons_shifted_along_the_march_are_caught(rough):
    tangents = horizon_tangents(rough, STEP, STEP, AZIMUTHS)
    with pytest.raises(AssertionError):
        check(errors(rough, 0.5 * (tangents + np.roll(tangents, 1, axis=1))))


@pytest.mark.parametrize(("depth", "floor"), [(0.5, 0.707107), (1.0, 0.447214)])
def test_openness_of_a_groove_floor(depth, floor):
    # infinitely long groove, W = 1, centre of the floor: (W/2) / sqrt(D^2 + W^2/4)
    step = 0.005
    field = np.zeros((240, 2400), np.float32)
    field[20:221] = -depth
    normals = vertex_normals(field, step, step)
    found = open_moments(field, normals, step, step, 48)[0]
    # the walls lean over one mesh step: the groove is half a step wider than 201 rows
    assert found[120, 1200] == pytest.approx(floor, rel=0.015)
    assert found[2, 1200] == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("side", ["up", "down", "left", "right"])
def test_turned_fields_keep_places_and_directions(side):
    field = ledgestone(30, 40, 0.01)
    step_v, step_u = 0.01, 0.01
    frame = Frame(np.array([1.0, 2, 3]), *np.eye(3))
    turned = turn_field(field, side)
    own = turn_frame(frame, side, 39 * step_u, 29 * step_v)
    assert np.cross(own.u, own.v) == pytest.approx(own.n)
    # the same vertex lies at the same place in the room
    r, c = 3, 5
    here = own.to_room(np.array([c * 0.01, r * 0.01, float(turned[r, c])]))
    u, v, n = frame.from_room(here)
    assert field[round(v / step_v), round(u / step_u)] == pytest.approx(n)
    normals = vertex_normals(field, step_u, step_v)
    fresh = turn_vectors(normals, side)[:, r, c]
    there = normals[:, round(v / step_v), round(u / step_u)]
    assert fresh @ np.stack([own.u, own.v, own.n]) == pytest.approx(there, abs=1e-6)


def test_a_field_too_long_to_count_places_in_is_refused():
    longest = np.zeros((2, 65_520), np.float32)
    longest[1, 100] = 0.01
    found = horizon_tangents(longest, STEP, STEP, np.array([0.8]))[0]
    assert found[found > -999].max() < 100  # every place in its own cell
    assert found.max() > 0.5
    with pytest.raises(ValueError, match="too long"):
        horizon_tangents(np.zeros((2, 70_000), np.float32), STEP, STEP, np.array([0.8]))
