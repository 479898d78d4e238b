"""Meshes in the light of a run: on stone and on plain surfaces, against brute force."""

import dataclasses
from functools import cache

import numpy as np
import pytest
import pyvista as pv

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.direct import direct
from rakelight.light.faces import EXACT_TRIANGLES
from rakelight.light.meshes import REFLECTING_TRIANGLES, part_boxes, stand_in
from rakelight.light.prepare import prepare
from rakelight.light.visibility import shading_notes
from rakelight.scene.quality import Quality
from rakelight.scene.surfaces import Body
from reference.brute_force import BruteForce, mesh_normals, relief_mesh
from reference.grazed_walls import distribution, ledgestone, wall
from reference.mountings import X, Y, Z, line_at, lit_by, rectangle

SIZE, STEP, WALL_Y = 2.0, 0.008, 3.6
QUALITY = Quality(mesh_step_m=STEP)
WIDE = distribution(lambda d: 1000 * np.maximum(0, -d[..., 2]))
LEAN = np.array([0, np.sin(0.25), -np.cos(0.25)])
#: A wash half a metre from the wall, and a lone luminaire with hard shadows.
RUN = line_at((0.0, WALL_Y - 0.55, 1.97), X, LEAN, [(0, 2)], WIDE)
SINGLE = line_at((0.9, WALL_Y - 0.6, 1.9), X, LEAN, [(0, 0.1)], WIDE, 0.1)


def body(mesh, name="mesh M1", kind="mesh"):
    mesh = mesh.triangulate()
    faces = mesh.regular_faces.astype(np.int64)
    return Body(name, kind, np.asarray(mesh.points, float), faces, np.full(3, 0.3))


def vase(centre=(1.0, WALL_Y - 0.3, 0.9), size=0.18):
    """Of 7,680 triangles: a ball on a thin stem, with a foot."""
    x, y, z = centre
    ball = pv.Sphere(radius=size, center=centre, theta_resolution=60, phi_resolution=60)
    stem = pv.Cylinder(center=(x, y, z / 2), direction=Z, radius=0.015, height=z, resolution=40)
    return body(ball.merge(stem))


BODIES = {
    "vase": vase(),
    "on the floor": body(
        pv.ParametricTorus(ringradius=0.25, crosssectionradius=0.06).translate(
            (0.7, WALL_Y - 0.4, 0.06)
        )
    ),
    "against the wall": vase((1.4, WALL_Y - 0.16, 1.2), 0.1),
}


def vertices(surface):
    grid, frame = surface.grid, surface.frame
    if surface.relief is None:
        u, v = np.meshgrid(grid.u_m(), grid.v_m())
        points = frame.to_room(np.stack([u, v, 0 * u], -1).reshape(-1, 3))
        return points, None, np.broadcast_to(frame.n, points.shape)
    points, faces = relief_mesh(surface.relief.heights_m, grid.step_u_m, grid.step_v_m)
    normals = mesh_normals(points, faces) @ np.stack([frame.u, frame.v, frame.n])
    return frame.to_room(points), faces, normals


@cache
def main_wall():
    return wall(SIZE, SIZE, STEP, heights=ledgestone(251, 251, STEP, depth_m=0.025))


def exact_light(surface, thing, line, some, samples=1024):
    points, faces, normals = vertices(surface)
    triangles = thing.points_m[thing.faces]
    if faces is None:
        brute = BruteForce(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))
    else:
        brute = BruteForce(points, faces)
        brute.add(triangles)
    lift = 2e-5 * surface.frame.n
    return brute.illuminance(points[some], normals[some], line, samples, lift_m=lift)


@pytest.mark.parametrize("name", BODIES)
@pytest.mark.parametrize("line", [RUN, SINGLE], ids=["run", "single"])
def test_a_mesh_shades_stone_and_floor_as_brute_force_says(name, line):
    # 1,024 samples stratified in angle and across the opening
    thing = BODIES[name]
    # short of the wall, whose stone would shade it too
    floor = rectangle("floor", (0, WALL_Y - 1.2, 0), X, Y, (2.0, 1.15), 0.02, blocks=False)
    room = lit_by([main_wall(), floor], line, bodies=[thing])
    bare = lit_by([main_wall(), floor], line)
    lit, unshaded = direct(prepare(room, QUALITY)), direct(prepare(bare, QUALITY))
    rng = np.random.default_rng(2)
    for surface in (main_wall(), floor):
        ours = lit.direct_lx[surface.name][0].ravel()
        without = unshaded.direct_lx[surface.name][0].ravel()
        shaded = np.flatnonzero(ours < 0.99 * without)
        if surface is floor:
            assert shaded.size > 20
        elif shaded.size < 200:
            continue
        some = np.concatenate([rng.choice(shaded, 700), rng.choice(ours.size, 700)])
        exact = exact_light(surface, thing, line, some)
        for part in (slice(0, 700), slice(700, 1400)):
            mean = pytest.approx(exact[part].mean(), rel=0.01, abs=2e-3 * exact[700:].mean())
            assert ours[some][part].mean() == mean
        # on a plain floor hardly anything but the grain of 64 rays a point is left to compare
        assert np.corrcoef(ours[some], exact)[0, 1] >= (0.999 if surface is not floor else 0.998)


def test_a_mesh_of_few_triangles_is_cut_exactly_like_any_blocker():
    cube = pv.Cube(center=(1.0, WALL_Y - 0.3, 0.5), x_length=0.3, y_length=0.2, z_length=0.9)
    assert cube.triangulate().n_cells <= EXACT_TRIANGLES
    fields = [
        direct(prepare(lit_by([main_wall()], RUN, bodies=[body(cube, kind=kind)]), QUALITY))
        for kind in ("mesh", "blocker")
    ]
    np.testing.assert_array_equal(fields[0].direct_lx["main"], fields[1].direct_lx["main"])


def test_rays_and_exact_faces_agree():
    cube = pv.Cube(center=(1.0, WALL_Y - 0.3, 0.9), x_length=0.3, y_length=0.2, z_length=0.5)
    few = body(cube)
    many = body(cube.triangulate().subdivide(3))
    assert len(many.faces) > EXACT_TRIANGLES
    one, two = (
        direct(prepare(lit_by([main_wall()], RUN, bodies=[b]), QUALITY)).direct_lx["main"][0]
        for b in (few, many)
    )
    assert two.mean() == pytest.approx(one.mean(), rel=2e-3)
    assert np.corrcoef(one.ravel(), two.ravel())[0, 1] > 0.9995
    # not one vertex in a thousand is off by more than a few of the 64 rays
    off = np.abs(one - two) / one.max()
    assert np.quantile(off, 0.999) < 0.04


def test_a_mesh_behind_the_run_or_out_of_its_way_changes_nothing():
    far = vase((1.0, WALL_Y - 1.2, 0.9))
    plain = direct(prepare(lit_by([main_wall()], RUN), QUALITY)).direct_lx["main"]
    beside = direct(prepare(lit_by([main_wall()], RUN, bodies=[far]), QUALITY)).direct_lx["main"]
    np.testing.assert_array_equal(plain, beside)


def test_part_boxes_hold_every_triangle_and_are_few():
    thing = vase()
    triangles = thing.points_m[thing.faces]
    boxes = part_boxes(triangles)
    assert 1 < len(boxes) <= 512
    low, high = boxes.min(axis=1), boxes.max(axis=1)
    inside = (triangles.min(axis=1)[:, None] >= low - 1e-12).all(-1)
    inside &= (triangles.max(axis=1)[:, None] <= high + 1e-12).all(-1)
    assert inside.any(axis=1).all()
    assert np.prod(high - low, axis=1).sum() < np.prod(np.ptp(thing.points_m, axis=0))


def test_a_coarse_mesh_stands_in_for_a_fine_one():
    thing = vase()
    coarse = stand_in(thing)
    assert 50 < len(coarse.faces) <= REFLECTING_TRIANGLES
    np.testing.assert_allclose(
        [coarse.points_m.min(axis=0), coarse.points_m.max(axis=0)],
        [thing.points_m.min(axis=0), thing.points_m.max(axis=0)],
        atol=0.05,
    )
    small = body(pv.Cube())
    assert stand_in(small) is small


def room_with(bodies):
    """Two metres of white box, lit from a corner of the ceiling."""
    faces = [
        rectangle("floor", (0, 0, 0), X, Y, (2, 2), 0.1, blocks=False),
        rectangle("ceiling", (0, 2, 2), X, -Y, (2, 2), 0.1, blocks=False),
        rectangle("main", (0, 2, 0), X, Z, (2, 2), 0.1, blocks=False),
        rectangle("opposite", (2, 0, 0), -X, Z, (2, 2), 0.1, blocks=False),
        rectangle("left", (0, 0, 0), Y, Z, (2, 2), 0.1, blocks=False),
        rectangle("right", (2, 2, 0), -Y, Z, (2, 2), 0.1, blocks=False),
    ]
    line = line_at((0.2, 1.5, 1.95), X, -Z, [(0, 1.6)], WIDE)
    return lit_by(faces, line, bodies=bodies)


def test_a_mesh_stands_in_reflected_light_too():
    # a dark ball of 0.5 m in a white box of 2 m takes up a good part of the light
    black = dataclasses.replace(
        body(pv.Sphere(radius=0.5, center=(1, 0.7, 0.6))), reflectance_rgb=np.full(3, 0.02)
    )
    coarse = BounceQuality(edge_m=0.1, patch_m=0.3)
    means = []
    for bodies in ((), (black,)):
        prepared = prepare(room_with(bodies), Quality(plane_step_m=0.1))
        lit, balance = bounce(prepare_bounce(prepared, coarse), direct(prepared))
        assert balance.residual < 0.01
        means.append(lit.bounced_lx["ceiling"].mean())
    assert means[1] < 0.85 * means[0]


def test_a_run_inside_a_closed_mesh_is_said_to_give_no_light():
    shell = body(pv.Sphere(radius=0.4, center=(1.0, WALL_Y - 0.5, 1.4)))
    inside = line_at((0.9, WALL_Y - 0.5, 1.4), X, LEAN, [(0, 0.2)], WIDE)
    plain = wall(SIZE, SIZE, 0.1)
    room = lit_by([plain], inside, bodies=[shell])
    (note,) = shading_notes(room, room.lines())
    assert "everything around it is closed" in note
    assert direct(prepare(room, QUALITY)).direct_lx["main"].max() == 0
