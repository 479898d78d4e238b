"""A relief with straight sides catches the flux that rays bring it, no more."""

import numpy as np
import pytest
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene

from rakelight.build import wall
from rakelight.build.scene import build_scene
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.measure import fields

SCENE = """
[room]
width = 0.6
depth = 2
height = 0.9
[[relief]]
texture = "blocks.toml"
[[run]]
photometry = "graze-narrow"
setback = "100 mm"
"""
TEXTURE = """
title = "Blocks"
heights = "blocks.npy"
width = "600 mm"
height = "600 mm"
depth = "30 mm"
reflectance = 0.4
"""


@pytest.fixture
def scene_path(tmp_path):
    """Blocks of 60 x 40 mm, each as proud as chance has it, on a wall of 0.6 x 0.9 m."""
    chance, size = np.random.default_rng(1), 480
    heights = np.zeros((size, size), np.float32)
    for row in range(0, size, 32):
        for column in range(0, size, 48):
            places = np.arange(column, column + 46) + 24 * (row // 32 % 2)
            heights[row : row + 30, places % size] = chance.uniform()
    np.save(tmp_path / "blocks.npy", heights)
    (tmp_path / "blocks.toml").write_text(TEXTURE)
    (tmp_path / "scene.toml").write_text(SCENE)
    return tmp_path / "scene.toml"


def caught_lm(scene):
    """Flux that the relief gets by its own vertices."""
    found = fields(scene.room.surface("main"), direct(prepare(scene.room, scene.quality)))
    return float(np.sum(found.total_lx * found.true_m2, dtype=np.float64))


def brought_lm(scene, rays=1_500_000):
    """Flux of rays from the run, by chance over its length, opening and the sphere."""
    surface = scene.room.surface("main")
    heights, grid = surface.relief.heights_m, surface.grid
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    points = surface.frame.to_room(np.stack([u, v, heights], axis=-1).reshape(-1, 3))
    at = np.arange(heights.size).reshape(heights.shape)
    a, b, c, d = (at[i, j].ravel() for i, j in (
        (np.s_[:-1], np.s_[:-1]), (np.s_[:-1], np.s_[1:]), (np.s_[1:], np.s_[1:]),
        (np.s_[1:], np.s_[:-1]),
    ))  # fmt: skip
    stone = EmbreeScene()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    TriangleMesh(stone, points.astype(np.float32), faces.astype(np.int32))
    chance = np.random.default_rng(2)
    (line,) = scene.room.lines()
    start, end = line.lit_m[0]
    along = chance.uniform(start, end, rays)[:, None] * line.axis
    across = line.opening_width_m * chance.uniform(-0.5, 0.5, rays)[:, None] * line.across
    rise, turn = chance.uniform(-1, 1, rays), chance.uniform(0, 2 * np.pi, rays)
    ring = np.sqrt(1 - rise**2)
    ways = np.stack([ring * np.cos(turn), ring * np.sin(turn), rise], axis=1)
    starts = (line.origin_m + along + across).astype(np.float32)
    met = stone.run(starts, ways.astype(np.float32)) >= 0
    return float(np.mean(line.candela_per_metre(ways) * met)) * 4 * np.pi * (end - start)


def test_straight_sides_catch_what_rays_bring(scene_path):
    scene = build_scene(scene_path)
    assert scene.room.surface("main").relief.softened
    assert any("steeper than a mesh" in note for note in scene.notes)
    # 1.5 million rays leave 0.4 %
    assert caught_lm(scene) == pytest.approx(brought_lm(scene), rel=0.02)


def test_left_straight_they_would_catch_more(scene_path, monkeypatch):
    monkeypatch.setattr(wall, "CLIFF", 1e9)
    scene = build_scene(scene_path)
    assert caught_lm(scene) > 1.05 * brought_lm(scene)
