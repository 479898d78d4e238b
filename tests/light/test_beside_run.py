"""What a wall receives of a run that ends at it hangs on the run, not on where its vertices lie."""

import numpy as np
import pytest

from rakelight.light.beside_run import beside_run
from rakelight.light.direct import direct, point_light
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from reference.cut_rooms import room_with, run_at, shell

STEP_M = 0.02
DEPTH_M, HEIGHT_M = 1.2, 1.6


def on_side_wall(setback_m, height_m):
    """The wall at the run's end, its direct light, and the run."""
    _, line = run_at(setback_m, height_m, 0.02)
    room = room_with(shell(DEPTH_M, HEIGHT_M, STEP_M), line)
    lit = direct(prepare(room, Quality()))
    return room.surface("left"), lit.direct_lx["left"][0].astype(float), line


@pytest.mark.parametrize(
    ("setback_m", "height_m"), [(0.100, 1.40), (0.103, 1.393), (0.110, 1.40), (0.105, 1.395)]
)
def test_a_wall_receives_what_a_run_that_ends_at_it_gives(setback_m, height_m):
    """Beside sums over places 2 mm apart; a vertex in the spot itself made it tenfold."""
    wall, lux, line = on_side_wall(setback_m, height_m)
    grid = wall.grid
    places = np.meshgrid(
        (np.arange(600) + 0.5) / 600 * grid.width_m, (np.arange(800) + 0.5) / 800 * HEIGHT_M
    )
    points = wall.frame.to_room(np.stack([*places, 0 * places[0]], axis=-1).reshape(-1, 3))
    expected = point_light(points, wall.frame.n, line, 32).mean(dtype=np.float64)
    found = np.trapezoid(np.trapezoid(lux, axis=1), axis=0) / (grid.columns - 1) / (grid.rows - 1)
    assert found == pytest.approx(expected, rel=0.04)
    # and a spot of a few millimetres is not drawn as one of two centimetres
    assert lux.max() * STEP_M**2 < 0.1 * expected * grid.width_m * HEIGHT_M


def test_only_vertices_right_beside_the_run_are_evened_out():
    wall, lux, line = on_side_wall(0.1, 1.4)
    where = beside_run(wall, line)
    row, column = np.nonzero(where)
    spot = wall.frame.from_room(line.origin_m[None])[0, :2]
    away = np.hypot(column * STEP_M - spot[0], row * STEP_M - spot[1])
    assert 10 < away.size < 60
    assert away.max() < 0.061
    vertices = np.stack(np.meshgrid(wall.grid.u_m(), wall.grid.v_m()), axis=-1).reshape(-1, 2)
    points = wall.frame.to_room(np.column_stack([vertices, np.zeros(len(vertices))]))
    bare = point_light(points, wall.frame.n, line, 32).reshape(lux.shape)
    np.testing.assert_allclose(lux[~where], bare[~where], rtol=1e-3, atol=1e-3)
    assert beside_run(wall, line) is not None
    _, far = run_at(0.5, 0.8, 0.02)
    opposite = room_with(shell(DEPTH_M, HEIGHT_M, STEP_M), far).surface("opposite")
    assert beside_run(opposite, far) is None
