"""Light between neighbouring parts of a relief, vertex by vertex."""

from dataclasses import replace

import numba
import numpy as np
import pytest

from rakelight.light.near_light import at_corners, seen_around, sent_by_facets
from rakelight.light.normals import vertex_normals
from rakelight.light.openness import open_moments
from reference.plain_rooms import box_room, even_lit

STEP_M = 0.0025


def around(heights_m, exitance):
    """Found light and form factor to what is seen, at the vertices of square cells."""
    heights_m = np.asarray(heights_m, np.float32)
    normals = vertex_normals(heights_m, STEP_M, STEP_M)
    corners = at_corners(np.asarray(exitance, np.float32))
    return seen_around(heights_m, normals, corners, STEP_M, STEP_M)


def stones(rows=150, columns=290, seed=3):
    """Uneven blocks a few vertices wide, and uneven light."""
    rng = np.random.default_rng(seed)
    blocks = rng.uniform(-0.012, 0.012, (rows // 7 + 1, columns // 7 + 1))
    heights = np.kron(blocks, np.ones((7, 7)))[:rows, :columns]
    return heights + rng.normal(0, 0.0004, heights.shape), rng.uniform(0, 100, heights.shape)


def test_under_even_exitance_a_vertex_gets_its_share_of_it():
    heights, _ = stones()
    found, hidden = around(heights, np.full(heights.shape, 80.0))
    np.testing.assert_allclose(found, 80 * hidden, rtol=2e-4, atol=2e-3)
    assert hidden.min() > -1e-5
    assert hidden.max() > 0.5


def test_what_is_seen_of_the_relief_is_what_is_not_open():
    """Horizons of other azimuths, found in another way; the tall blocks are all within reach."""
    heights, light = stones()
    _, hidden = around(heights, light)
    heights = heights.astype(np.float32)
    normals = vertex_normals(heights, STEP_M, STEP_M)
    closed = 1 - open_moments(heights, normals, STEP_M, STEP_M, 24)[0]
    inner = (slice(30, -30), slice(30, -30))
    off = (hidden - closed)[inner]
    assert abs(off.mean()) < 0.004
    assert np.sqrt((off**2).mean()) < 0.03


def section(v_m, heights_m, light, at, normal, directions=20_000):
    """Light on one vertex of endless ledges, by rays in the cross-section, and its closed share.

    Along an endless ledge the light of one direction in the section, all directions that appear
    as it together, has half the facing cosine as its weight (re-derived: Lambert's cosine
    integrated along a line).
    """
    lean = np.arctan2(normal[0], normal[1])  # from upright toward +v
    turn = (np.arange(directions) + 0.5) / directions * np.pi - np.pi / 2  # from the normal
    weight = np.cos(turn) / 2 * np.pi / directions
    got = hidden = 0.0
    for side in (1, -1):
        ahead = side * np.sin(lean + turn) > 0
        slope = np.cos(lean + turn[ahead]) / np.abs(np.sin(lean + turn[ahead]))
        free = np.ones(slope.size, bool)
        over = np.zeros(slope.size)  # height of the last vertex over the ray
        for k in range(at + side, len(v_m) if side > 0 else -1, side):
            now = heights_m[k] - heights_m[at] - abs(v_m[k] - v_m[at]) * slope
            met = free & (now > 0)
            share = -over[met] / (now[met] - over[met])
            met_light = light[k - side] + share * (light[k] - light[k - side])
            got += (weight[ahead][met] * met_light).sum()
            hidden += weight[ahead][met].sum()
            free &= ~met
            over = now
    return got, hidden


@pytest.mark.parametrize("along_rows", [True, False])
def test_a_joint_between_a_lit_ledge_and_a_dark_one(along_rows):
    """A narrow bright band on one side only, as a graze leaves it; five depths of the joint."""
    v_m = np.arange(81) * STEP_M
    at = np.arange(81) - 40
    profile = 0.02 * np.clip(np.abs(at) / 6 - 0.5, 0, 1) + 0.0007 * np.cos(at)
    light = np.where((at > 6) & (at <= 9), 500.0, 20.0)
    light[at == 6] = 260.0
    field = np.repeat(profile[:, None], 241, axis=1), np.repeat(light[:, None], 241, axis=1)
    heights, bright = field if along_rows else (field[0].T, field[1].T)
    found, hidden = around(heights, bright)
    normals = vertex_normals(heights.astype(np.float32), STEP_M, STEP_M)
    for depth in (-5, -2, 0, 1, 3):
        place = (40 + depth, 120) if along_rows else (120, 40 + depth)
        normal = normals[1 if along_rows else 0][place], normals[2][place]
        got, closed = section(v_m, profile, light, 40 + depth, normal)
        assert closed > 0.1
        assert hidden[place] == pytest.approx(closed, rel=0.04)
        assert found[place] / hidden[place] == pytest.approx(got / closed, rel=0.10)


def test_a_ledge_is_as_bright_from_either_side():
    heights, light = stones()
    found, hidden = around(heights, light)
    for turned in (np.flipud, np.fliplr):
        # the cells' diagonal, which vertex normals know, has a side of its own: turn those too
        normals = vertex_normals(heights.astype(np.float32), STEP_M, STEP_M)
        other = np.stack([turned(n) for n in normals])
        other[1 if turned is np.flipud else 0] *= -1
        there = seen_around(
            turned(heights).astype(np.float32),
            other,
            at_corners(turned(light).astype(np.float32)),
            STEP_M,
            STEP_M,
        )
        np.testing.assert_allclose(turned(there[0]), found, rtol=1e-4, atol=1e-3)
        np.testing.assert_allclose(turned(there[1]), hidden, rtol=1e-4, atol=1e-5)


def test_a_hump_sees_nothing_of_itself_nor_past_the_border():
    v, u = np.mgrid[-1:1:90j, -1:1:110j]
    found, hidden = around(-0.05 * (u**2 + v**2), np.full(u.shape, 1000.0))
    assert np.abs(hidden).max() < 5e-4  # at the border, whose normals lean inward
    np.testing.assert_allclose(found, 1000 * hidden, atol=1e-3)


def test_one_thread_and_two_give_the_same_bytes():
    heights, light = stones()
    threads = numba.get_num_threads()
    both = around(heights, light)
    numba.set_num_threads(1)
    try:
        one = around(heights, light)
    finally:
        numba.set_num_threads(threads)
    for a, b in zip(both, one, strict=True):
        assert a.tobytes() == b.tobytes()


def test_a_facet_turned_to_the_run_sends_and_the_one_beside_it_does_not():
    """A ridge lit flat from one side: its two slopes by Lambert's cosine, not the arris's mean.

    Light without direction, and what is reflected, goes on top of both.
    """
    v = np.arange(9)
    heights = np.repeat(STEP_M * np.minimum(v, 8 - v)[:, None], 12, axis=1).astype(np.float32)
    room = box_room(11 * STEP_M, 0.5, 8 * STEP_M, 0.5, step=STEP_M, heights=heights)
    main = room.surface("main")
    down = np.array([0.0, np.sqrt(0.5), np.sqrt(0.5)], np.float32)  # square onto the far slope
    toward = np.broadcast_to(1000 * down[:, None, None], (1, 3, 9, 12)).astype(np.float32)
    normals = vertex_normals(heights, STEP_M, STEP_M)
    aimed = np.maximum(np.einsum("kij,kij->ij", toward[0], normals), 0)
    lit = even_lit(room, {"main": 0.0})
    lit = replace(lit, direct_lx={"main": (aimed + 40)[None]}, toward_lx={"main": toward})
    reflected = np.full((9, 12, 1), 20.0, np.float32)
    weights, rho = np.full((1, 1), 0.7, np.float32), np.full(1, 0.5, np.float32)
    sent = sent_by_facets(main, normals, lit, weights, reflected, rho)
    above = 0.5 * (0.7 * 40 + 20)
    np.testing.assert_allclose(sent[:, :4], above, rtol=1e-5)
    np.testing.assert_allclose(sent[:, 4:], above + 0.5 * 0.7 * 1000, rtol=1e-5)
