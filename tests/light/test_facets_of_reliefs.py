"""What a relief's facets see, against rays; a room's light between its surface and its hollows."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from rakelight.scene.surfaces import Room
from reference import grazed_walls
from reference.brute_force import BruteForce, relief_mesh
from reference.grazed_walls import ledgestone
from reference.plain_rooms import NAMES, box_room, even_lit, true_areas

STEP_M = 0.005
#: Rays on random facets: 0.15 % of the plan area.
RAYS = 600_000
COARSE = BounceQuality(edge_m=0.1, patch_m=0.4, point_edge_m=0.05, point_m=0.3)


def slats(rows, columns):
    """Upright slats 40 mm wide and 30 mm deep, gaps of 20 mm, flanks of one cell."""
    at = np.arange(columns) * STEP_M % 0.06
    profile = np.where(at < 0.04, 0.01, -0.02)
    return np.repeat(profile[None], rows, axis=0)


RELIEFS = {"slats": slats(361, 481), "ledgestone": ledgestone(361, 481, STEP_M)}


def relief_room(heights):
    rows, columns = heights.shape
    return box_room((columns - 1) * STEP_M, 1.0, (rows - 1) * STEP_M, 0.5, heights=heights)


def open_area(relief, seed=1):
    """Sum of the facets' area times openness, by rays from them, and their area. [m2]

    The mean plane closes the view where the relief ends, as it does everywhere else.
    """
    grid = relief.grid
    vertices, faces = relief_mesh(relief.heights_m, grid.step_u_m, grid.step_v_m)
    corners = vertices[faces].astype(float)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(normal, axis=1) / 2
    normal /= 2 * area[:, None]
    rng = np.random.default_rng(seed)
    share = (np.arange(RAYS) + rng.random(RAYS)) / RAYS
    face = np.searchsorted(np.cumsum(area) / area.sum(), share).clip(max=len(area) - 1)
    a, b = np.sqrt(rng.random(RAYS)), rng.random(RAYS)
    weights = np.stack([1 - a, a * (1 - b), a * b], axis=1)
    starts = np.einsum("ij,ijk->ik", weights, corners[face]) + 1e-5 * normal[face]
    # the facing cosine as density: on the unit sphere about the normal's tip
    ball = rng.normal(size=(RAYS, 3))
    ways = normal[face] + ball / np.linalg.norm(ball, axis=1, keepdims=True)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    seen = (ways[:, 2] > 0) & ~BruteForce(vertices, faces).hidden(starts, ways)
    return area.sum() * seen.mean(), area.sum()


@pytest.mark.parametrize("name", RELIEFS)
def test_light_is_counted_as_the_facets_see_the_room(name):
    room = relief_room(RELIEFS[name])
    surface = room.surface("main")
    seen, whole = open_area(surface.relief)
    plan = surface.grid.width_m * surface.grid.height_m
    assert seen == pytest.approx(plan, rel=0.005)  # but for what leaves over the border
    ready = prepare_bounce(prepare(room, Quality()), COARSE)
    catch, openness = ready.walls["main"].catch, ready.walls["main"].moments[0]
    room_lx, hollow_lx = openness[..., None], (1 - openness)[..., None]
    none = np.zeros_like(room_lx)
    by_room, by_hollow = catch.flux(room_lx, none)[0], catch.flux(none, hollow_lx)[0]
    assert by_room == pytest.approx(seen, rel=0.005)
    assert by_hollow == pytest.approx(whole - seen, rel=0.02)
    # even light all over is that on the true area
    assert by_room + by_hollow == pytest.approx(true_areas(surface).sum(), rel=1e-3)


def test_vertices_alone_would_see_too_much_of_the_room():
    room = relief_room(RELIEFS["slats"])
    wall = prepare_bounce(prepare(room, Quality()), COARSE).walls["main"]
    alone = replace(wall.catch, sees=(1.0, 1.0))
    openness = wall.moments[0][..., None]
    surface = room.surface("main")
    plan = surface.grid.width_m * surface.grid.height_m
    assert alone.flux(openness, 0 * openness)[0] > 1.01 * plan


def test_beyond_a_reliefs_border_the_room_is_before_its_mean_plane():
    # slats that end in a flank at the wall's edge: it faces the next wall, and sees none of
    # what lies below the mean plane
    heights = slats(101, 121)
    heights[:, -2:] = -0.02
    room = relief_room(heights)
    ready = prepare(room, Quality()).reliefs["main"]
    flank = ready.normals[0][50] > 0.5
    last = np.flatnonzero(flank)[-1]
    up = ready.normals[2][50, last]
    # an open slope sees the half-space before the mean plane by (1 + cosine) / 2
    assert ready.openness[50, last] < (1 + up) / 2 + 0.005
    hollows = prepare_bounce(prepare(room, Quality()), COARSE).walls["main"].hollows
    links = np.add.reduceat(hollows.weights, hollows.starts[:-1])
    links[np.diff(hollows.starts) == 0] = 0
    there = hollows.area_m2 > 0
    np.testing.assert_allclose((links + hollows.openness)[there], 1, atol=1e-5)
    seen, _ = open_area(room.surface("main").relief)
    assert float(hollows.mouth_m2.sum()) == pytest.approx(seen, rel=0.01)


def test_plain_parts_of_a_wall_with_an_area_of_relief_send_back_their_light():
    # the right half is slats, the left half plain: it is lit, and swallows what it receives
    heights = slats(121, 201)
    heights[:, :100] = 0
    room = relief_room(heights)
    main = room.surface("main")
    mask = np.zeros(heights.shape, bool)
    mask[:, 100:] = True
    partly = replace(main, relief=replace(main.relief, mask=mask))
    # what passes the mean plane: more where slats catch it
    catches, plan = true_areas(main), true_areas(replace(main, relief=None))
    passing = np.empty((1, *heights.shape), np.float32)
    for half in (slice(0, 100), slice(100, None)):
        passing[0][:, half] = 500 * catches[:, half].sum() / plan[:, half].sum()
    found = []
    for wall in (main, partly):
        ready = prepare(Room((wall, *room.surfaces[1:]), ()), Quality())
        around = prepare_bounce(ready, COARSE)
        lit = replace(even_lit(ready.room, {"main": 500.0}), flat_lx={"main": passing})
        out, balance = bounce(around, lit)
        assert abs(balance.error) < 0.005
        found.append((balance.arrived_lm, ready.reliefs["main"].openness, out.bounced_lx))
    assert found[1][0] == pytest.approx(found[0][0], rel=1e-6)
    # nothing of it lies lower than it is: the wall stands in the light as if it were all relief
    np.testing.assert_array_equal(found[1][1], found[0][1])
    for name in NAMES:
        np.testing.assert_allclose(found[1][2][name], found[0][2][name], rtol=1e-5)


def test_a_hole_in_a_plain_part_is_none_of_it():
    heights = slats(121, 201)
    heights[:, :100] = 0
    room = relief_room(heights)
    main = room.surface("main")
    mask = np.zeros(heights.shape, bool)
    mask[:, 100:] = True
    hole = np.array([[0.1, 0.1], [0.1, 0.3], [0.3, 0.3], [0.3, 0.1]])
    cut = replace(main, holes_uv_m=(hole,), relief=replace(main.relief, mask=mask))
    ready = prepare(Room((cut, *room.surfaces[1:]), ()), Quality())
    hollows = prepare_bounce(ready, COARSE).walls["main"].hollows
    found = hollows.relief.mask
    assert not found[22:58, 22:58].any()
    assert found[:, 100:].all()
    assert found[:, 62:].all()
    assert found[[0, -1]].all()


def test_a_relief_without_an_image_sends_light_by_its_facets_too():
    """Of scans and of walls out of true, too, it is known where their vertices' light comes from.

    By the vertices' own light instead, a leaning brick wall's hollows were 4 % off (RMS), one 22 %.
    """
    heights = ledgestone(121, 161, STEP_M)
    surface = grazed_walls.wall(0.8, 0.6, STEP_M, heights)
    line = grazed_walls.run(0.06, ((0.0, 0.8),), top_m=0.62)
    scene = grazed_walls.room(surface, line)
    ready = prepare(scene, Quality())
    lit = direct(ready, scene.groups)
    normals = ready.reliefs["main"].normals
    by_normal = np.maximum(np.einsum("krc,krc->rc", lit.toward_lx["main"][0], normals), 0)
    found = lit.direct_lx["main"][0]
    assert found.max() > 10 * found.mean() / 9  # some stone is in shadow
    # all but arrises that part of the run's length lies behind
    off = abs(by_normal - found) > 0.05 * found + 0.01 * found.max()
    assert off.mean() < 0.003
    assert lit.edges["main"].cells.max() > 100
    # in a search, and in a still without bounced light, nobody asks, and it costs nothing
    assert not direct(ready, scene.groups, edges=False).toward_lx
    still = direct(ready, scene.groups, bounced=False)
    assert not still.toward_lx
    assert not still.edges
    np.testing.assert_allclose(still.direct_lx["main"][0], found, rtol=1e-4, atol=1e-3)
