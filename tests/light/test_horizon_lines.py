"""Sheared lines: together they reach every vertex once, and none stands out."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter1d

import rakelight.light.horizon as horizon_module
from rakelight.light.direct import direct
from rakelight.light.horizon import half_turn, horizon_tangents
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from reference.brute_force import BruteForce, mesh_normals, relief_mesh
from reference.grazed_walls import room, run, wall


@pytest.mark.parametrize("azimuth", half_turn(30)[[0, 4, 11, 15, 22]])
def test_no_vertex_is_skipped_where_a_line_passes_midway_between_two(azimuth):
    # a plane that falls toward the source along the axis that the lines march on: each
    # vertex's horizon lies below the mean plane by the plane's slope, or is open at a border
    rows, columns, step, fall = 1081, 1921, 0.0025, 0.2
    along_rows = abs(np.cos(azimuth)) >= abs(np.sin(azimuth))
    place = np.arange(rows)[:, None] if along_rows else np.sign(azimuth) * np.arange(columns)
    heights = np.broadcast_to(-fall * step * place, (rows, columns)).astype(np.float32)
    slope = -fall * (np.cos(azimuth) if along_rows else abs(np.sin(azimuth)))
    tangents = horizon_tangents(heights, step, step, np.array([azimuth]))[0]
    seen = tangents[tangents > -999]
    assert seen.size > 0.4 * rows * columns
    # float32 heights up to a metre over cells of a few millimetres
    np.testing.assert_allclose(seen, slope, atol=1e-4)


#: Rows of the gap, far below the run, and its columns on either side of the floor's middle one.
ROWS, COLUMNS = np.arange(120, 480), np.array([85, 86, 87, 88, 90, 91, 92, 93])


@pytest.fixture(scope="module")
def slats():
    """Slats up a wall with gaps eight columns wide, grazed along the gaps."""
    surface = wall(
        0.45,
        1.5,
        heights=lambda u, v: 0.016 * np.clip(1.6 * np.cos(2 * np.pi * u / 0.045) + 0.4, -1, 1),
    )
    return surface, run(0.1, [(0, 0.45)], top_m=1.56)


def down_the_gap(slats):
    scene = room(*slats)
    lit = direct(prepare(scene, Quality()), edges=False)
    return lit.direct_lx["main"][0][np.ix_(ROWS, COLUMNS)]


def darkest(light):
    """The least of a row's light over that of its column 50 mm up and down."""
    return (light / uniform_filter1d(light, 41, axis=0))[25:-25].min()


def test_a_narrow_gap_has_no_dots(slats):
    surface, line = slats
    grid, frame = surface.grid, surface.frame
    points, faces = relief_mesh(surface.relief.heights_m, grid.step_u_m, grid.step_v_m)
    chosen = (ROWS[:, None] * grid.columns + COLUMNS).ravel()
    normals = mesh_normals(points, faces)[chosen] @ np.stack([frame.u, frame.v, frame.n])
    brute, places = BruteForce(frame.to_room(points), faces), frame.to_room(points[chosen])
    exact = brute.illuminance(places, normals, line, 512, lift_m=1e-6 * normals)
    exact = exact.reshape(ROWS.size, COLUMNS.size)
    assert darkest(exact) > 0.9
    ours = down_the_gap(slats)
    # what is left is six degrees between azimuths, in views a few degrees wide
    assert darkest(ours) > 0.75
    np.testing.assert_allclose(ours.mean(axis=0), exact.mean(axis=0), rtol=0.1)


def test_one_line_a_cell_makes_dots(slats, monkeypatch):
    monkeypatch.setattr(horizon_module, "LINES", ())
    assert darkest(np.maximum(down_the_gap(slats), 1e-6)) < 0.1
