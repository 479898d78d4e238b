"""The scenes that come with Rakelight: they build, they teach, they compare like with like."""

from pathlib import Path

import numpy as np
import pytest

from rakelight.build.scene import build_scene
from rakelight.scene.quality import Quality

SCENES = Path(__file__).parents[2] / "scenes"
NAMES = sorted(path.stem for path in SCENES.glob("*.toml"))
COARSE = Quality(mesh_step_m=0.02, plane_step_m=0.3)


def column_lx(scene, u_m, below_m):
    """Direct illuminance on the flat main wall, by summing a run's elements. [lx]"""
    wall = scene.room.surface("main")
    lit = np.zeros(len(below_m))
    for group in scene.room.groups:
        for line in group.lines:
            v = wall.frame.from_room(line.origin_m)[1] - below_m
            points = wall.frame.to_room(np.stack([np.full_like(v, u_m), v, 0 * v], axis=1))
            for start, end in line.lit_m:
                steps = int((end - start) / 0.002)
                at = start + (np.arange(steps) + 0.5) * (end - start) / steps
                ray = points[:, None] - (line.origin_m + at[:, None] * line.axis)
                far = np.linalg.norm(ray, axis=-1)
                ray /= far[..., None]
                lx = line.candela_per_metre(ray) * -(ray @ wall.frame.n) / far**2
                lit += group.output * lx.sum(axis=1) * (end - start) / steps
    return lit


def test_there_are_scenes():
    assert {"ticket-hall", "ticket-hall-graze", "ticket-hall-wash", "gallery-glow"} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_shipped_scene_builds_and_teaches(name):
    scene = build_scene(SCENES / f"{name}.toml", quality=COARSE)
    assert scene.title != scene.name
    text = (SCENES / f"{name}.toml").read_text(encoding="utf-8")
    comments = [line for line in text.splitlines() if "#" in line]
    assert len(comments) >= 4
    assert {w.key for w in scene.warnings} <= {"no_runs"}
    assert "no_runs" not in {w.key for w in scene.warnings} or name == "ticket-hall"


def test_graze_and_wash_share_stone_room_exposure_and_average():
    graze, wash = (
        build_scene(SCENES / f"ticket-hall-{name}.toml", quality=COARSE)
        for name in ("graze", "wash")
    )
    for a, b in zip(graze.room.surfaces, wash.room.surfaces, strict=True):
        assert (a.name, a.other_light_lx, a.grid) == (b.name, b.other_light_lx, b.grid)
        np.testing.assert_array_equal(a.reflectance_rgb, b.reflectance_rgb)
    np.testing.assert_array_equal(
        graze.room.surface("main").relief.heights_m, wash.room.surface("main").relief.heights_m
    )
    assert [c.name for c in graze.cameras] == [c.name for c in wash.cameras]
    for a, b in zip(graze.cameras, wash.cameras, strict=True):
        np.testing.assert_array_equal(a.eye_m, b.eye_m)
    below = np.linspace(0.03, 2.6, 60)
    averages = [
        np.mean([column_lx(scene, u, below) for u in np.linspace(0.2, 4.6, 9)])
        for scene in (graze, wash)
    ]
    assert averages[0] == pytest.approx(averages[1], rel=0.15)
    assert graze.runs[0].setback_m < 0.16
    assert 30 <= wash.runs[0].setback_m / 0.0254 <= 36


def test_the_gallery_glows_where_a_painting_hangs():
    scene = build_scene(SCENES / "gallery-glow.toml", quality=COARSE)
    below = np.linspace(0.05, 2.6, 120)
    lit = column_lx(scene, scene.tables.room.width_m / 2, below)
    peak_height = scene.tables.room.height_m - scene.runs[0].drop_m - below[lit.argmax()]
    # common practice: the glow lies at 5 to 6 ft; by bounce it gains some tens of lx more
    assert 1.5 < peak_height < 1.9
    assert 120 < lit.max() < 200
