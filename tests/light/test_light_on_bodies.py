"""Runs light meshes and housings too, and these send it on into the room."""

from dataclasses import replace

import numpy as np
import pytest
import pyvista as pv

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.direct import direct
from rakelight.light.on_bodies import light_on_bodies
from rakelight.light.prepare import prepare
from rakelight.scene.quality import Quality
from rakelight.scene.surfaces import Body
from reference.grazed_walls import distribution
from reference.mountings import X, Z, line_at, lit_by
from reference.path_tracer import PathTracer
from reference.plain_rooms import NAMES, block, box_room, even_lit, mean

SMALL = BounceQuality(edge_m=0.06, patch_m=0.2, point_edge_m=0.03, point_m=0.2)
DOWN = distribution(lambda d: 1000 * np.maximum(0, -d[..., 2]))
#: Along the middle of a box of 1.6 x 1.2 x 1.0 m, under its ceiling.
RUN = line_at((0.3, 0.6, 0.95), X, -Z, [(0, 1.0)], DOWN, 0.03)
LOW, HIGH = (0.55, 0.45, 0.0), (1.0, 0.75, 0.35)


def lit_room(bodies, rho=0.4, runs=(RUN,)):
    groups = lit_by([], *runs).groups
    room = box_room(1.6, 1.2, 1.0, rho, step=0.025)
    return replace(room, groups=groups, bodies=tuple(bodies))


def reflected(room, quality=SMALL):
    """Reflected light, its balance, and what the bodies' patches catch at first. [lx]"""
    ready = prepare(room, Quality())
    around = prepare_bounce(ready, quality)
    caught = light_on_bodies(around)
    lit, balance = bounce(around, direct(ready), caught)
    return lit, balance, around, caught


def from_run(points, normals, line=RUN, steps=400):
    """Illuminance of a run of cosine candela with nothing in between, by plain sums. [lx]"""
    x = (np.arange(steps) + 0.5) / steps * line.lit_length_m
    way = line.origin_m + x[:, None] * line.axis - points[:, None]
    far = np.linalg.norm(way, axis=2)
    cosine = np.maximum(np.einsum("pxk,pk->px", way, normals) / far, 0)
    down = np.maximum(way[..., 2] / far, 0)
    return (1000 * down * cosine / far**2).mean(axis=1) * line.lit_length_m


def test_patches_of_a_block_have_what_the_run_sends_them():
    _, _, around, caught = reflected(lit_room([block(LOW, HIGH)]))
    at = np.flatnonzero(around.on_bodies)
    points, shares = (part[at] for part in around.patches.samples(6))
    normals = around.patches.normals[at]
    each = from_run(points.reshape(-1, 3).astype(float), np.repeat(normals, 36, axis=0))
    expected = (each.reshape(shares.shape) * shares).sum(axis=1)
    assert caught.shape == (1, at.size)
    up = normals[:, 2] > 0.9
    assert caught[0, up] == pytest.approx(expected[up], rel=0.01)
    assert (caught[0, normals[:, 2] < -0.9] == 0).all()
    sides = np.abs(normals[:, 1]) > 0.9
    area = around.patches.areas_m2[at]
    assert area[sides] @ caught[0, sides] == pytest.approx(area[sides] @ expected[sides], rel=0.01)


def test_a_white_block_brightens_the_floor_beside_it_as_paths_of_light_say():
    """Means of each side of the room, and of the floor's strip before the block; within 2 %."""
    beside = replace(RUN, origin_m=np.array([0.3, 1.05, 0.95]))
    room = lit_room([block(LOW, HIGH, 0.85)], runs=(beside,))
    fine = BounceQuality(edge_m=0.03, patch_m=0.1, point_edge_m=0.015, point_m=0.1)
    lit, balance, around, _ = reflected(room, fine)
    assert abs(balance.error) < 0.005
    tracer = PathTracer(room, room.bodies)
    rng = np.random.default_rng(5)
    for number, surface in enumerate(room.surfaces):
        if surface.name != "floor":  # a part of it lies under the block
            traced, error = tracer.mean_over(np.flatnonzero(tracer.owner == number), 40_000, rng)
            found = mean(surface, lit.bounced_lx[surface.name])
            assert found == pytest.approx(traced, rel=0.02, abs=2 * error), surface.name
    x, y = (tracer.corners.mean(axis=1) + tracer.middle)[:, :2].T
    strip = (tracer.owner == 4) & (x > 0.6) & (x < 0.95) & (y > 0.825) & (y < 0.95)
    traced, error = tracer.mean_over(np.flatnonzero(strip), 40_000, rng)
    found = of_strip(lit.bounced_lx["floor"])
    assert found == pytest.approx(traced, rel=0.02, abs=2 * error)
    without, _ = bounce(around, direct(prepare(room, Quality())))
    assert found > 1.3 * of_strip(without.bounced_lx["floor"])


def of_strip(field):
    """Mean over x from 0.6 m to 0.95 m, y from 0.825 m to 0.95 m; the block's foot is at 0.75 m."""
    part = field[33:39, 24:39]
    return float(np.trapezoid(np.trapezoid(part, axis=1), axis=0) / 14 / 5)


def test_light_on_bodies_counts_as_arrived():
    room = lit_room([block(LOW, HIGH, 0.0)])
    lit, balance, around, caught = reflected(room)
    ready = prepare(room, Quality())
    without, less = bounce(around, direct(ready))
    flux = float(around.patches.areas_m2[around.on_bodies] @ caught[0])
    assert flux > 0.09 * less.arrived_lm
    assert balance.arrived_lm == pytest.approx(less.arrived_lm + flux, rel=1e-6)
    assert balance.absorbed_lm == pytest.approx(less.absorbed_lm + flux, rel=1e-6)
    for name, lx in lit.bounced_lx.items():  # black sends nothing on
        np.testing.assert_array_equal(lx, without.bounced_lx[name])


def test_all_of_a_run_s_light_arrives_somewhere():
    # a closed box: what leaves the run is caught by the walls and by the block
    _, balance, *_ = reflected(lit_room([block(LOW, HIGH)]))
    assert balance.arrived_lm == pytest.approx(RUN.lumens, rel=0.01)


def housing(tag, low, high, rho=0.85):
    return replace(block(low, high, rho), name=f"housing {tag}.1", kind="housing")


def test_a_run_s_own_housing_has_none_of_its_light_and_another_s_has():
    # wider than the opening and before it: what it catches is in the file, measured in it
    own = housing(RUN.tag, (0.3, 0.5, 0.96), (1.3, 0.7, 0.99))
    other = housing("H9", (0.4, 0.9, 0.3), (1.2, 1.0, 0.4))
    sideways = distribution(lambda d: np.full(d.shape[:-1], 100.0))  # up as well
    run = replace(RUN, intensity=sideways)
    _, _, around, caught = reflected(lit_room([own, other], runs=(run,)))
    owner = around.patches.owner[around.on_bodies]
    assert (caught[0, owner == owner.min()] == 0).all()
    assert caught[0, owner == owner.max()].max() > 20


def test_each_group_has_its_own():
    second = replace(RUN, tag="H", origin_m=np.array([0.3, 0.9, 0.95]))
    both = reflected(lit_room([block(LOW, HIGH)], runs=(RUN, second)))[3].sum(axis=0)
    one = reflected(lit_room([block(LOW, HIGH)]))[3].sum(axis=0)
    other = reflected(lit_room([block(LOW, HIGH)], runs=(second,)))[3].sum(axis=0)
    assert both == pytest.approx(one + other, rel=1e-5)


def test_what_stands_in_between_shades_a_body():
    board = replace(block((0.3, 0.3, 0.6), (1.3, 0.9, 0.62)), name="board")
    _, _, around, caught = reflected(lit_room([block(LOW, HIGH), board]))
    owner = around.patches.owner[around.on_bodies]
    assert caught[0, owner == owner.min()].max() == 0
    assert caught[0, owner == owner.max()].max() > 500


SHEET = np.array([[0.5, 0.4, 0.3], [1.1, 0.4, 0.3], [1.1, 0.8, 0.5], [0.5, 0.8, 0.5]])


def thin(points, faces, rho):
    return Body("mesh M1", "mesh", points, np.array(faces), np.full(3, rho), thin=True)


def test_a_furnace_with_a_thin_sheet_is_even():
    # every surface gives out M0 (1 - rho) by itself, the sheet on both sides: E = M0 all over
    rho = dict(zip(NAMES, (0.45, 0.5, 0.3, 0.6, 0.2, 0.8), strict=True))
    room = box_room(1.6, 1.2, 1.0, rho, bodies=(thin(SHEET, [[0, 1, 2], [0, 2, 3]], 0.35),))
    around = prepare_bounce(prepare(room, Quality()), SMALL)
    given = np.full((1, int(around.on_bodies.sum())), 1000 * 0.65 / 0.35, np.float32)
    lit, balance = bounce(
        around, even_lit(room, {n: 1000 * (1 - r) / r for n, r in rho.items()}), given
    )
    assert abs(balance.error) < 1e-3
    for name, lx in lit.bounced_lx.items():
        assert mean(room.surface(name), lx) == pytest.approx(1000, rel=0.005), name


@pytest.mark.parametrize("faces", [[[0, 1, 2], [0, 2, 3]], [[0, 2, 1], [0, 3, 2]]])
def test_both_sides_of_a_thin_sheet_are_lit_whichever_its_triangles_face(faces):
    _, balance, around, caught = reflected(lit_room([thin(SHEET, faces, 0.8)]))
    at = around.on_bodies
    up = around.patches.normals[at][:, 2] > 0
    areas = around.patches.areas_m2[at]
    assert (
        areas[up].sum()
        == pytest.approx(areas[~up].sum())
        == pytest.approx(0.6 * np.hypot(0.4, 0.2))
    )
    assert caught[0, up].min() > 500
    assert caught[0, ~up].max() == 0
    assert balance.arrived_lm == pytest.approx(RUN.lumens, rel=0.01)
    assert abs(balance.error) < 0.005


def test_a_ball_of_many_triangles_catches_what_a_ball_does():
    mesh = pv.Sphere(radius=0.15, center=(0.8, 0.6, 0.4), theta_resolution=60, phi_resolution=60)
    faces = mesh.regular_faces.astype(np.int64)
    ball = Body("mesh M1", "mesh", np.asarray(mesh.points, float), faces, np.full(3, 0.5))
    _, balance, around, caught = reflected(lit_room([ball]))
    points = np.asarray(mesh.points, float)[faces]
    vectors = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0]) / 2
    area = np.linalg.norm(vectors, axis=1)
    flux = float(area @ from_run(points.mean(axis=1), vectors / area[:, None]))
    found = float(around.patches.areas_m2[around.on_bodies] @ caught[0])
    # less: corners of the coarse ball lie within the fine one
    assert 0.95 * flux < found < flux
    assert balance.arrived_lm == pytest.approx(RUN.lumens, rel=0.01)
