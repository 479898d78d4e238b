"""Every way to mount a run, on split stone, against brute force with the same things in the way."""

import dataclasses
from functools import cache

import numpy as np
import pytest

from rakelight.build.wall import relief_on_wall
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.read.relief import read_texture
from rakelight.read.shipped import shipped_folder
from rakelight.scene.frame import Frame
from rakelight.scene.quality import Quality
from reference.brute_force import BruteForce, mesh_normals, relief_mesh
from reference.grazed_walls import distribution, grazing, wall
from reference.mountings import X, Y, Z, box, line_at, lit_by, rectangle, triangles_of

SIZE, STEP = 2.0, 0.0025
QUALITY = Quality(mesh_step_m=STEP)
VERTICES, SAMPLES = 2000, 1024
WALL_Y = 3.6

BEAM = distribution(grazing)
BOTH_WAYS = distribution(lambda d: 300 + 700 * np.abs(d[..., 2]))
SPOT = distribution(lambda d: 3000 * np.maximum(0, -d[..., 2]) ** 20)
WIDE = distribution(lambda d: 1000 * np.maximum(0, -d[..., 2]))
TURN = np.array([np.cos(np.radians(20)), np.sin(np.radians(20)), 0])
LEAN = np.array([0, np.sin(0.25), -np.cos(0.25)])

#: A board in front of a run: hides the wall's top.
FASCIA = (rectangle("fascia", (0.3, WALL_Y - 0.15, 1.9), X, Z, (1.2, 0.15)),)
COLUMN = box("column", (0.9, WALL_Y - 0.35, 0.0), (1.1, WALL_Y - 0.2, 1.8))
#: Turned by 30 degrees in plan, its edges parallel to nothing.
POST = tuple(
    rectangle(
        f"post.{k}",
        np.array([0.9, WALL_Y - 0.3, 0.0])
        + 0.12 * sum((np.array([np.cos(a + 0.5), np.sin(a + 0.5), 0]) for a in turns), np.zeros(3)),
        (np.cos(t + 0.5), np.sin(t + 0.5), 0),
        Z,
        (0.12, 1.7),
    )
    for k, (t, turns) in enumerate(
        [(0.0, ()), (np.pi / 2, (0.0,)), (np.pi, (0.0, np.pi / 2)), (-np.pi / 2, (np.pi / 2,))]
    )
)
#: Sides and lid of a slot above the ceiling at 2 m, the run inside it.
SLOT = (
    rectangle("slot.near", (-0.5, WALL_Y - 0.1, 2.0), X, Z, (3, 0.3)),
    rectangle("slot.far", (-0.5, WALL_Y - 0.35, 2.0), X, Z, (3, 0.3)),
    rectangle("slot.lid", (-0.5, WALL_Y - 0.35, 2.3), X, Y, (3, 0.25)),
)

MOUNTINGS = {
    "pendant": (line_at((0.2, 3.3, 1.0), X, (0, 0.2, -1), [(0, 1.6)], BOTH_WAYS), ()),
    "vertical": (line_at((-0.03, 3.45, 0.2), Z, (1, 0.05, 0), [(0, 1.6)], BEAM, 0.02), ()),
    "turned in plan": (line_at((0.05, 3.15, 1.98), TURN, -Z, [(0, 1.2)], WIDE), ()),
    "over the wall, slanting": (
        line_at((0.2, 3.3, 0.6), (1, 0.05, 0.5), (0, 0.2, -1), [(0, 1.5)], BOTH_WAYS), ()),
    "perpendicular": (line_at((1.1, 3.45, 1.98), -Y, -Z, [(0, 1.2)], BEAM), ()),
    "single": (line_at((1.0, 3.3, 1.96), X, LEAN, [(0, 0.06)], SPOT, 0.06), ()),
    "round single": (
        line_at((1.0, 3.3, 1.96), X, LEAN, [(0, 0.08)], SPOT, 0.08, round_opening=True), ()),
    "row of singles": (
        line_at((0.1, 3.3, 1.96), X, LEAN, [(k * 0.4, k * 0.4 + 0.06) for k in range(5)], SPOT,
                0.06), ()),
    "fascia": (line_at((0.0, 3.35, 1.97), X, LEAN, [(0, 2)], WIDE), FASCIA),
    "slot": (line_at((0.0, 3.4, 2.2), X, LEAN, [(0, 2)], WIDE), SLOT),
    "column": (line_at((0.0, 3.3, 1.97), X, LEAN, [(0, 2)], WIDE), COLUMN),
    "post at an angle": (line_at((0.0, 3.15, 1.97), X, LEAN, [(0, 2)], WIDE), POST),
    "single behind a post": (line_at((0.95, 3.1, 1.9), X, LEAN, [(0, 0.06)], SPOT, 0.06), POST),
}  # fmt: skip


class Stone:
    """A wall of split stone, prepared once, with its mesh for brute force."""

    def __init__(self):
        texture = read_texture("split-ledgestone", [shipped_folder("textures")])
        relief, _ = relief_on_wall(texture, SIZE, SIZE, STEP)
        self.surface = wall(SIZE, SIZE, STEP, heights=relief.heights_m)
        grid, frame = self.surface.grid, self.surface.frame
        points, self.faces = relief_mesh(relief.heights_m, grid.step_u_m, grid.step_v_m)
        normals = mesh_normals(points, self.faces)
        self.chosen = np.random.default_rng(5).choice(len(points), VERTICES, replace=False)
        self.v = points[self.chosen, 1]
        self.all_m = frame.to_room(points)
        self.points = self.all_m[self.chosen]
        self.normals = normals[self.chosen] @ np.stack([frame.u, frame.v, frame.n])

    def brute(self, things):
        brute = BruteForce(self.all_m, self.faces)
        if len(things):
            brute.add(triangles_of(things))
        return brute


@cache
def stone():
    return Stone()


def round_samples(line):
    """A round opening as nine strips whose lit lengths are its chords, all one brightness."""
    strips = (np.arange(9) - 4) / 4.5
    chord = np.sqrt(1 - strips**2)
    middle, half = line.lit_m.mean(axis=1), np.diff(line.lit_m, axis=1)[:, 0] / 2
    return [
        dataclasses.replace(
            line,
            origin_m=line.origin_m + line.across * tau * line.opening_width_m / 2,
            opening_width_m=line.opening_width_m / 9,
            lit_m=np.stack([middle - half * c, middle + half * c], axis=1),
            per_metre=line.per_metre / chord.sum(),
        )
        for tau, c in zip(strips, chord, strict=True)
    ]


def agree(ours, exact, v, hard=False):
    """Mean within 1 %, correlation 0.999; mean within 2 % by quarter of the height.

    A single luminaire throws hard shadows, whose edges lie within a mesh step of the true ones;
    one vertex in a thousand may lie between the two, and its correlation means nothing.
    """
    assert ours.mean() == pytest.approx(exact.mean(), rel=0.01)
    kept = np.argsort(np.abs(ours - exact))[: -len(v) // 1000 if hard else len(v)]
    assert np.corrcoef(ours[kept], exact[kept])[0, 1] >= 0.999
    for quarter in range(4):
        band = (v >= SIZE * quarter / 4) & (v < SIZE * (quarter + 1) / 4)
        # a band with hardly any light is measured against the wall's mean
        slack = 0.002 * exact.mean()
        assert ours[band].mean() == pytest.approx(exact[band].mean(), rel=0.02, abs=slack), quarter


@pytest.mark.parametrize("name", MOUNTINGS)
def test_light_agrees_with_brute_force(name):
    # >= 1,024 samples stratified in angle a vertex, rays 0.005 mm off the surface
    line, things = MOUNTINGS[name]
    wall_ = stone()
    room = lit_by([wall_.surface, *things], line)
    ours = direct(prepare(room, QUALITY)).direct_lx["main"][0].ravel()[wall_.chosen]
    brute = wall_.brute(things)
    parts = round_samples(line) if line.intensity.round_opening else [line]
    samples = SAMPLES // len(parts)
    lift = 2e-5 * wall_.surface.frame.n
    exact = sum(
        brute.illuminance(wall_.points, wall_.normals, part, samples, lift_m=lift) for part in parts
    )
    assert exact.mean() > 1
    agree(ours, exact, wall_.v, hard="single" in name)


def corner_walls():
    """Main wall and the left one beside it, both of stone, meeting at x = 0, y = 3.6."""
    main = stone().surface
    heights = np.ascontiguousarray(main.relief.heights_m[:, ::-1])
    relief = dataclasses.replace(main.relief, heights_m=heights)
    frame = Frame(np.array([0, WALL_Y - SIZE, 0.0]), Y, Z, X)
    return main, dataclasses.replace(main, name="left", frame=frame, relief=relief)


@pytest.mark.parametrize("name", ["main", "left", "floor"])
def test_two_reliefs_that_meet_at_a_corner(name):
    # near the corner a wall's stone stands in the other's light
    walls = corner_walls()
    floor = rectangle("floor", (0, WALL_Y - 0.5, 0), X, Y, (0.5, 0.5), 0.0025, blocks=False)
    line = line_at((0.15, 3.35, 1.97), X, LEAN, [(0, 1.8)], WIDE)
    room = lit_by([*walls, floor], line)
    lit = direct(prepare(room, QUALITY)).direct_lx[name][0].ravel()
    highest = walls[0].relief.highest_m
    meshes = []
    for surface in walls:
        grid, frame = surface.grid, surface.frame
        points, faces = relief_mesh(surface.relief.heights_m, grid.step_u_m, grid.step_v_m)
        meshes.append((frame.to_room(points), faces, mesh_normals(points, faces)))
    brute = BruteForce(*meshes[0][:2])
    brute.add(meshes[1][0][meshes[1][1]])
    surface = room.surface(name)
    if name == "floor":
        u, v = np.meshgrid(surface.grid.u_m(), surface.grid.v_m())
        points = surface.frame.to_room(np.stack([u, v, 0 * u], -1).reshape(-1, 3))
        normals = np.broadcast_to(Z, points.shape)
        close = (points[:, 0] < highest) | (WALL_Y - points[:, 1] < highest)
    else:
        points, _, local = meshes[name == "left"]
        normals = local @ np.stack([surface.frame.u, surface.frame.v, surface.frame.n])
        close = points[:, 0] < highest if name == "main" else WALL_Y - points[:, 1] < highest
    rng = np.random.default_rng(3)
    some = np.concatenate(
        [rng.choice(np.flatnonzero(close), 1000), rng.choice(np.flatnonzero(~close), 1000)]
    )
    exact = brute.illuminance(points[some], normals[some], line, 512, lift_m=2e-5 * surface.frame.n)
    for part in (slice(0, 1000), slice(1000, 2000)):
        ours = lit[some][part]
        assert ours.mean() == pytest.approx(exact[part].mean(), rel=0.01)
        assert np.corrcoef(ours, exact[part])[0, 1] >= 0.999
