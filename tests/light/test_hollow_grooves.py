"""Light inside hollows: endless grooves on a mesh, through the relief's own pieces and links."""

import numpy as np
import pytest

from rakelight.light.hollows import fill_hollows, find_hollows
from rakelight.scene.grid import Grid
from rakelight.scene.relief import Relief

WIDTH_M = 0.06
LAND_M = 0.02

# Apparent reflectance of an endless rectangular groove for even diffuse light, from the integral
# equation with crossed-string factors (Hottel; Sparrow and Cess, from memory); solved apart
# from this project on 240 and 480 patches a side, 2e-5, and by random walk, 0.2 %
RECTANGULAR = {
    0.5: (0.18404, 0.34150, 0.66993),
    1: (0.13221, 0.25876, 0.57602),
    2: (0.09671, 0.19207, 0.46438),
}
# Endless V-groove by its full opening angle (Sparrow and Lin 1962, from memory), likewise
V_SHAPED = {
    30: (0.13058, 0.25109, 0.54665),
    60: (0.18701, 0.34590, 0.67265),
    90: (0.23543, 0.41714, 0.73981),
    120: (0.27119, 0.46457, 0.77612),
}
REFLECTANCES = (0.3, 0.5, 0.8)


def grooves(one, step_m):
    """Two grooves side by side, with lands, 2 m long."""
    land = np.zeros(round(LAND_M / step_m) + 1)
    profile = np.concatenate([land, one, land, one, land])
    heights = np.repeat(profile[None], 101, axis=0).astype(np.float32)
    grid = Grid(101, profile.size, step_m * (profile.size - 1), 2.0)
    return Relief(heights, grid, np.ones(heights.shape, bool), -1.0, (0.05, 0.05), "grooves")


def apparent(relief):
    """Apparent reflectance of the first groove, half way along."""
    step = relief.grid.step_u_m
    hollows = find_hollows(relief, block_m=step)
    u, v = hollows.places()
    low = np.repeat(hollows.low_m.ravel(), hollows.bins.ravel())
    inside = (np.abs(v - 1) < 0.011) & (u < LAND_M + 1.1 * WIDTH_M) & (low < -1e-6)
    mouth = hollows.mouth_m2[inside]
    found = []
    for rho in REFLECTANCES:
        lx = fill_hollows(hollows, hollows.openness[:, None].copy(), np.array([rho], np.float32))
        found.append((rho * lx[inside, 0] * mouth).sum() / mouth.sum())
    return found


@pytest.mark.parametrize("ratio", RECTANGULAR)
def test_rectangular_groove(ratio):
    # one-cell walls: the mesh has no vertex between their top and their foot
    one = np.full(round(WIDTH_M / 0.001) - 1, -ratio * WIDTH_M)
    np.testing.assert_allclose(apparent(grooves(one, 0.001)), RECTANGULAR[ratio], rtol=0.02)


@pytest.mark.parametrize("degrees", V_SHAPED)
def test_v_groove(degrees):
    across = np.arange(1, round(WIDTH_M / 0.001)) * 0.001
    depth = np.minimum(across, WIDTH_M - across) / np.tan(np.radians(degrees / 2))
    np.testing.assert_allclose(apparent(grooves(-depth, 0.001)), V_SHAPED[degrees], rtol=0.02)


def test_the_even_radiosity_estimate_would_not_pass():
    # rho f / (1 - rho (1 - f)), f = mouth over inner area: one patch a hollow
    f, rho = np.sin(np.radians(30)), 0.5
    assert abs(rho * f / (1 - rho * (1 - f)) / V_SHAPED[60][1] - 1) > 0.03


def test_a_blocks_own_pieces_send_out_what_grooves_do():
    # blocks of 4 cells on a 2.5 mm mesh, as a wall has them; lands count as plain wall
    one = np.full(round(WIDTH_M / 0.0025) - 1, -WIDTH_M)
    relief = grooves(one, 0.0025)
    hollows = find_hollows(relief, block_m=0.01)
    lx = fill_hollows(hollows, hollows.openness[:, None].copy(), np.array([0.5], np.float32))
    _, v = hollows.places()
    middle = np.abs(v - 1) < 0.05
    mouth = hollows.mouth_m2[middle]
    found = (0.5 * lx[middle, 0] * mouth).sum() / mouth.sum()
    whole = relief.grid.width_m
    expected = (2 * WIDTH_M * RECTANGULAR[1][1] + (whole - 2 * WIDTH_M) * 0.5) / whole
    assert found == pytest.approx(expected, rel=0.03)


def test_pieces_and_room_together_fill_each_half_space():
    rng = np.random.default_rng(3)
    heights = (rng.random((81, 121)) * 0.03).astype(np.float32)
    relief = Relief(
        heights, Grid(81, 121, 0.6, 0.4), np.ones(heights.shape, bool), -0.1, (0.05, 0.05), "r"
    )
    hollows = find_hollows(relief)
    links = np.add.reduceat(hollows.weights, hollows.starts[:-1])
    links[np.diff(hollows.starts) == 0] = 0
    there = hollows.area_m2 > 0
    assert there.mean() > 0.99
    np.testing.assert_allclose((links + hollows.openness)[there], 1, atol=1e-5)
