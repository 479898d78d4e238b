"""Light between vertices where shadows' edges run."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.direct import direct
from rakelight.light.near_light import sent_by_facets
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from rakelight.scene.relief import Detail
from reference.grazed_walls import X, Z, room, run, wall

WIDE, HIGH, SETBACK = 1.0, 0.8, 0.06
IMAGE = Detail(np.zeros((2, 2), np.float32), 0.01, 0.1, 0.1)


def pillows(u, v):
    """Round pillows whose shadows end on their neighbours, alike along neither axis."""
    return 0.006 * np.sin(41 * u + 0.8) * np.sin(37 * v) + 0.002 * np.sin(90 * u - 60 * v)


def surface(step_m, heights=pillows):
    bare = wall(WIDE, HIGH, step_m, heights)
    return replace(bare, relief=replace(bare.relief, detail=IMAGE))


def line_at(side):
    """A run a little outside the wall on one side, its peak down along it."""
    if side in ("up", "down"):
        top = HIGH + 0.03 if side == "up" else -0.03
        return run(SETBACK, ((0.0, WIDE),), top_m=top, tilt_rad=0.0 if side == "up" else np.pi)
    u = WIDE + 0.03 if side == "right" else -0.03
    away = -X if side == "right" else X
    line = run(SETBACK, ((0.0, HIGH),))
    origin = np.array([u, 3.6 - SETBACK, 0.0])
    return replace(line, origin_m=origin, axis=Z, nadir=away, across=np.cross(Z, away), c0=Z)


def lit(step_m, *lines, heights=pillows, quality=None):
    return direct(prepare(room(surface(step_m, heights), *lines), quality or Quality()))


def halfway(field, edges):
    """Bilinear between the vertices, at the points on edges."""
    j, i = edges.rows, edges.columns
    corners = [(j // 2, i // 2), ((j + 1) // 2, i // 2), (j // 2, (i + 1) // 2)]
    return sum(field[..., a, b] for a, b in [*corners, ((j + 1) // 2, (i + 1) // 2)]) / 4


@pytest.mark.parametrize("side", ["up", "down", "right", "left"])
def test_points_on_edges_are_lit_as_vertices_there_would_be(side):
    coarse, fine = lit(0.005, line_at(side)), lit(0.0025, line_at(side))
    edges = coarse.edges["main"]
    assert 0.02 < (edges.cells >= 0).mean() < 0.5
    for found, field, mesh, share in (
        (edges.direct_lx[0], coarse.direct_lx["main"][0], fine.direct_lx["main"][0], 0.5),
        (edges.toward_lx[0], coarse.toward_lx["main"][0], fine.toward_lx["main"][0], 0.65),
    ):
        exact = mesh[..., edges.rows, edges.columns]
        # between vertices straight across the edges it is 17 % off, and what arrives 25 to 30 %
        assert found.mean() == pytest.approx(exact.mean(), rel=0.06)
        assert np.abs(found - exact).mean() < share * np.abs(halfway(field, edges) - exact).mean()


def test_cells_name_the_points_around_their_middles():
    edges = lit(0.005, line_at("up")).edges["main"]
    j, i = np.nonzero(edges.cells >= 0)
    assert edges.cells[j, i].tolist() == list(range(len(edges.around)))
    for k, (down, right) in enumerate([(0, 1), (1, 0), (1, 1), (1, 2), (2, 1)]):
        np.testing.assert_array_equal(edges.rows[edges.around[:, k]], 2 * j + down)
        np.testing.assert_array_equal(edges.columns[edges.around[:, k]], 2 * i + right)


def sent(step_m, light):
    """What each cell sends back of a run's light, in all, for reflectance 1."""
    bare = surface(step_m)
    main = prepare(room(bare, line_at("up")), Quality()).reliefs["main"]
    none = np.zeros((*light.direct_lx["main"].shape[1:], 1), np.float32)
    one = np.ones((1, 1), np.float32)
    return sent_by_facets(bare, main.normals, light, one, none, one[0]).mean(axis=0)


def test_cells_that_an_edge_crosses_send_back_what_a_finer_mesh_says():
    coarse, fine = lit(0.005, line_at("up")), lit(0.0025, line_at("up"))
    exact = sent(0.0025, fine)
    exact = exact.reshape(exact.shape[0] // 2, 2, -1, 2).mean(axis=(1, 3))
    on = coarse.edges["main"].cells >= 0
    off = sent(0.005, coarse)[on] - exact[on]
    without = sent(0.005, replace(coarse, edges={}))[on] - exact[on]
    assert abs(off.mean()) < 0.05 * exact[on].mean()
    assert np.abs(off).mean() < 0.75 * np.abs(without).mean()


def test_runs_that_rows_do_not_share_are_counted_between_vertices_too():
    above = line_at("up")
    short = replace(above, lit_m=np.array([[0.3, 0.5]]), tag="short")
    both, alone = lit(0.005, above, short), lit(0.005, above)
    edges = both.edges["main"]
    rest = both.direct_lx["main"][0] - alone.direct_lx["main"][0]
    assert rest.max() > 0.2 * alone.direct_lx["main"].max()
    same = alone.edges["main"]
    np.testing.assert_array_equal(same.rows, edges.rows)
    expected = same.direct_lx[0] + halfway(rest, edges)
    assert edges.direct_lx[0] == pytest.approx(expected, rel=1e-4, abs=0.01)


def test_where_no_shadow_ends_nothing_is_refined():
    def gentle(u, v):
        return 0.0005 * np.sin(20 * u) * np.sin(20 * v)

    assert not lit(0.005, line_at("up"), heights=gentle).edges
    prepared = prepare(room(surface(0.005), line_at("up")), Quality())
    assert direct(prepared).edges
    assert not direct(prepared, edges=False).edges
