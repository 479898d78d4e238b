"""What vertices of a relief receive of a room that is bright in some directions only."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.openness import around_rad
from rakelight.light.outlook import EDGES_DEG, rays_of_bins
from rakelight.light.room_light import linear_and_beyond
from reference.path_tracer import PathTracer
from reference.plain_rooms import NAMES, block, box_room, even_lit, prepared, waves

SMALL = BounceQuality(edge_m=0.06, patch_m=0.2, point_edge_m=0.03, point_m=0.2)
CEILING_LX = 150.0
#: Vertices of either kind.
EACH = 100
BINS = around_rad().size * (len(EDGES_DEG) - 1)


def strip(y):
    """Light on the floor, a strip along the wall at y = 1.2. [lx]"""
    return 1000 * np.exp(-(((y - 0.95) / 0.1) ** 2))


def strip_room(bodies=()):
    """A strip of the floor and, far fainter, the ceiling are lit; nothing else reflects."""
    rho = dict.fromkeys(NAMES, 1e-4) | {"floor": 0.5, "ceiling": 0.5}
    heights = waves(201, 321, 1.6, 1.0, 0.05, 0.1)
    room = box_room(1.6, 1.2, 1.0, rho, step=0.02, heights=heights, bodies=bodies)
    lit = even_lit(room, {"ceiling": CEILING_LX})
    grid = room.surface("floor").grid
    rows = np.linspace(0, grid.height_m, grid.rows)
    field = np.repeat(strip(rows)[:, None], grid.columns, axis=1)[None]
    return room, replace(lit, direct_lx={**lit.direct_lx, "floor": field.astype(np.float32)})


def strip_light(points, normals, owners):
    """The same, for the tracer. [lx]"""
    floor, ceiling = (owners == NAMES.index(name) for name in ("floor", "ceiling"))
    return strip(points[:, 1]) * floor + CEILING_LX * ceiling


@pytest.fixture(scope="module")
def strip_walls():
    """The strip's room with what vertices receive, and what they do by a linear fit alone."""
    room, lit = strip_room()
    ready = prepare_bounce(prepared(room), SMALL)
    whole, _ = bounce(ready, lit)
    walls = {name: replace(wall, around=None) for name, wall in ready.walls.items()}
    linear, _ = bounce(replace(ready, walls=walls), lit)
    tracer = PathTracer(room, light_of=strip_light)
    return room.surface("main"), tracer, ready.walls["main"].moments[0], whole, linear


def over_paths(strip_walls, each, paths):
    """Hollow and bare vertices, `each` of either kind: found, linear over traced, and traced."""
    wall, tracer, openness, whole, linear = strip_walls
    points, normals, _ = tracer.vertices_of(wall)
    openness = openness.ravel()
    inner = np.zeros((wall.grid.rows, wall.grid.columns), bool)
    inner[12:-12, 12:-12] = True
    rng = np.random.default_rng(4)
    hollow = np.flatnonzero(inner.ravel() & (openness < np.quantile(openness, 0.3)))
    bare = np.flatnonzero(inner.ravel() & (openness > np.quantile(openness, 0.7)))
    which = np.concatenate([rng.choice(some, each, replace=False) for some in (hollow, bare)])
    traced, error = tracer.bounced(points[which], normals[which], paths, rng, wall.frame.n)
    found = [out.bounced_lx["main"].ravel()[which] / traced - 1 for out in (whole, linear)]
    return *found, traced, error


@pytest.fixture(scope="module")
def strips(strip_walls):
    """Few vertices, each well known."""
    found, linear, traced, error = over_paths(strip_walls, 12, 40_000)
    assert (error / traced).max() < 0.025
    return found, linear


@pytest.fixture(scope="module")
def many_strips(strip_walls):
    """Many vertices."""
    found, linear, traced, error = over_paths(strip_walls, EACH, 10_000)
    assert np.median(error / traced) < 0.025
    return found, linear, traced


def rms(values):
    return np.sqrt((values**2).mean())


def test_single_vertices_agree_with_traced_paths(strips):
    # hollows half in shadow, where the strip comes over the horizon of an azimuth 18 deg wide
    found, _ = strips
    assert rms(found[:12]) < 0.08
    assert rms(found[12:]) < 0.035
    assert abs(found.mean()) < 0.015


def test_light_linear_in_direction_would_not(strips):
    found, linear = strips
    assert rms(linear[:12]) > 5 * rms(found[:12])
    assert rms(linear[12:]) > 2 * rms(found[12:])


def test_a_hundred_vertices_of_either_kind_do(many_strips):
    found, linear, traced = many_strips
    assert rms(found[:EACH]) < 0.065
    assert rms(found[EACH:]) < 0.025
    assert abs(found.mean()) < 0.01
    # as from the mean plane alone, the wall's tops and bottoms were 6 % off
    off_lx = (found * traced)[:EACH]
    assert rms(off_lx) < 0.045 * traced[:EACH].mean()
    assert rms(linear[:EACH]) > 5 * rms(found[:EACH])
    assert rms(linear[EACH:]) > 5 * rms(found[EACH:])


def test_light_linear_in_direction_is_all_in_the_fit():
    ways = rays_of_bins(around_rad()).reshape(BINS, -1, 3).mean(axis=1)
    truth = np.array([50.0, -20.0, 8.0, 30.0])
    light = (truth[0] + ways @ truth[1:]).astype(np.float32)[None, :, None]
    level = np.full((1, 1), truth[0] + truth[3] * 2 / 3, np.float32)
    linear, beyond = linear_and_beyond(light, level)
    np.testing.assert_allclose(linear[1:, 0, 0], truth[1:], rtol=1e-3)
    # the bins' own mean of w_n is off two thirds by a little, and the level is met
    assert linear[0, 0, 0] == pytest.approx(truth[0], rel=2e-3)
    assert linear[0, 0, 0] + linear[3, 0, 0] * 2 / 3 == pytest.approx(level[0, 0], rel=1e-5)
    assert abs(beyond).max() < 1e-3


def test_what_the_fit_leaves_out_brings_the_mean_plane_nothing():
    rng = np.random.default_rng(1)
    light = rng.random((5, BINS, 3)).astype(np.float32)
    _, beyond = linear_and_beyond(light, np.full((5, 3), 0.5, np.float32))
    share = np.tile(np.diff(np.sin(np.radians(EDGES_DEG)) ** 2), around_rad().size)
    assert abs(beyond).max() > 0.3
    np.testing.assert_allclose(beyond @ share / around_rad().size, 0, atol=1e-6)


def test_a_wall_without_hollows_receives_what_its_plane_does():
    room, lit = strip_room()
    main = room.surface("main")
    level = replace(main.relief, heights_m=np.zeros_like(main.relief.heights_m))
    surfaces = [replace(s, relief=level) if s is main else s for s in room.surfaces]
    room = replace(room, surfaces=tuple(surfaces))
    out, _ = bounce(prepare_bounce(prepared(room), SMALL), lit)
    flat = out.flat_bounced_lx["main"]
    np.testing.assert_allclose(out.bounced_lx["main"], flat, rtol=2e-3, atol=2e-3 * flat.max())


def test_a_housing_hides_as_a_body_that_stays_does_and_as_rays_say():
    box = block((0.3, 0.8, 0.05), (1.3, 1.0, 0.12), 1e-4)
    found = []
    for kind in ("blocker", "housing"):
        room, lit = strip_room((replace(box, kind=kind),))
        out, _ = bounce(prepare_bounce(prepared(room), SMALL), lit)
        found.append(out.bounced_lx["main"])
    tracer = PathTracer(room, room.bodies, strip_light)
    room, lit = strip_room()
    clear, _ = bounce(prepare_bounce(prepared(room), SMALL), lit)
    middle = np.s_[20:100, 60:260]
    assert (found[0][middle] / clear.bounced_lx["main"][middle]).mean() < 0.8
    # patches of what stays end at a body's outline, others do not
    assert abs((found[1][middle] / found[0][middle] - 1).mean()) < 0.03
    wall = room.surface("main")
    points, normals, _ = tracer.vertices_of(wall)
    inner = np.zeros((wall.grid.rows, wall.grid.columns), bool)
    inner[middle] = True
    rng = np.random.default_rng(0)
    which = rng.choice(np.flatnonzero(inner), 250, replace=False)
    traced, error = tracer.bounced(points[which], normals[which], 8000, rng, wall.frame.n)
    assert np.median(error / traced) < 0.03  # it is a part of what follows
    for light in found:
        off = light.ravel()[which] / traced - 1
        assert abs(off.mean()) < 0.03
        assert rms(off) < 0.08
