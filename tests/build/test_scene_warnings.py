"""Warnings: each one comes when it should, and not when it should not."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from rakelight.build import warnings
from rakelight.build.repeats import likeness
from rakelight.build.scene import build_scene
from rakelight.scene.grid import Grid
from rakelight.scene.quality import Quality
from rakelight.scene.relief import Relief

COARSE = Quality(mesh_step_m=0.02, plane_step_m=1.0)


@pytest.fixture
def scene(tmp_path):
    def _scene(text, *overrides):
        path = tmp_path / "hall.toml"
        path.write_text(text)
        return build_scene(path, overrides, quality=COARSE)

    return _scene


def keys(scene):
    return [w.key for w in scene.warnings]


WASH = '[[run]]\nphotometry = "wash-flat"\nsetback = "30 in"\n'
GRAZE = '[[run]]\nphotometry = "graze-narrow"\nsetback = "6 in"\n'
STONE = '[[relief]]\ntexture = "split-ledgestone"\n'
BLOCKS = '[[relief]]\ntexture = "rough-limestone"\n'  # stands out some 22 mm


def test_a_usual_wash_on_a_flat_wall_has_nothing_to_warn_of(scene):
    assert keys(scene(WASH)) == []


def test_a_throw_or_a_peak_away_from_the_wall(scene):
    assert "throws_away" in keys(scene(WASH, "run.1.turn=180"))
    away = scene(WASH, "run.1.beam_aim=-20").warnings
    assert [(w.key, w.place) for w in away] == [("throws_away", "run L1")]
    assert "20 deg away from the main wall" in away[0].says


def test_a_beam_that_misses_names_where_it_lands(scene):
    built = scene(GRAZE, "run.1.setback=1", "run.1.beam_aim=5")
    [caveat] = built.warnings
    assert caveat.key == "beam_misses"
    # 1 m - 2.64 m tan 5 deg
    assert "on the floor, 0.769 m from the main wall" in caveat.says
    assert 1 - 2.64 * math.tan(math.radians(5)) == pytest.approx(0.769, abs=5e-4)
    assert built.runs[0].beam_on_wall < 0.5


def test_a_peak_just_before_the_walls_foot_is_no_miss(scene):
    # common practice: a wash is aimed at about 15 deg for 30 in on 9 ft, atan(30/108) = 15.5 deg
    built = scene(WASH, "run.1.beam_aim=15")
    assert built.runs[0].peak_on == "floor"
    assert built.runs[0].beam_on_wall > 0.9
    assert keys(built) == []


@pytest.mark.parametrize(
    ("text", "warned"),
    [
        (GRAZE.replace("6 in", "5 in"), True),  # a bare wall
        (GRAZE, False),  # 152 mm is not close
        (GRAZE.replace("6 in", "5 in") + '[[relief]]\ntexture = "trowelled-plaster"\n', True),
        (GRAZE.replace("6 in", "5 in") + STONE, False),  # stone is meant to show
    ],
)
def test_a_close_run_shows_joints_and_trowel_marks_of_a_smooth_wall(scene, text, warned):
    assert ("close_on_smooth" in keys(scene(text))) == warned


def test_flat_faces_between_deep_joints_count_as_flat_and_broken_stone_does_not():
    grid = Grid.with_step(1.2, 1.2, 0.005)
    tiles = np.zeros((grid.rows, grid.columns), np.float32)
    tiles[::40], tiles[:, ::40] = -0.006, -0.006  # joints 6 mm deep every 200 mm

    def wall(heights):
        mask = np.ones(heights.shape, bool)
        relief = Relief(heights, grid, mask, -0.01, (0.2, 0.2), "made")
        return SimpleNamespace(relief=relief, name="main")

    assert warnings.flat_share(wall(tiles)) > 0.9
    stone = np.random.default_rng(1).uniform(-0.01, 0.01, tiles.shape).astype(np.float32)
    assert warnings.flat_share(wall(stone)) == pytest.approx(0.15, abs=0.02)


@pytest.mark.parametrize(("setback", "warned"), [("55 mm", True), ("300 mm", False)])
def test_a_relief_too_deep_for_the_setback(scene, setback, warned):
    found = scene(BLOCKS + GRAZE.replace("6 in", setback)).warnings
    assert any(w.key == "too_deep" for w in found) == warned


def test_the_setback_that_a_deep_relief_asks_for_quiets_the_warning(scene):
    close = scene(BLOCKS + GRAZE.replace("6 in", "55 mm"), "units.length=mm")
    [says] = [w.says for w in close.warnings if w.key == "too_deep"]
    asked = says.split("from ")[1].split(" on")[0]
    assert "too_deep" not in keys(scene(BLOCKS + GRAZE.replace("6 in", asked)))


def test_near_field_names_the_height_above_which_to_mock_up(scene):
    close = scene(STONE + GRAZE.replace("6 in", "60 mm"), "run.1.lit_width=20 mm")
    [says] = [note for note in close.notes if "Near field" in note]
    # five widths are 100 mm: sqrt(100^2 - 60^2) = 80 mm below the opening at 2.64 m
    assert says.startswith("run L1: above 2.56 m the wall is within five opening widths (0.10 m)")
    # right under the run every graze has some: no warning
    assert "near_field" not in keys(close)
    far = scene(STONE + GRAZE.replace("6 in", "101 mm"), "run.1.lit_width=20 mm")
    assert not [note for note in far.notes if "Near field" in note]


def test_near_field_within_the_measured_band_is_a_warning(scene):
    # five widths of 100 mm reach 0.44 m below the opening; the band begins 0.3 m under the ceiling
    wide = scene(WASH, "run.1.lit_width=100 mm", "run.1.setback=200 mm")
    [says] = [w.says for w in wide.warnings if w.key == "near_field"]
    assert says.startswith("above 2.182 m")


def test_a_slot_and_a_room_without_runs(scene):
    assert "slot" in keys(scene(WASH, "run.1.drop=-0.05"))
    assert keys(scene("")) == ["no_runs"]


def test_repeats_are_named_where_a_picture_shows_the_same_stones_three_times(scene):
    # 12 m / 3.6 m = 3.3 copies; a wall of 9 m has 2.5
    long = "room.width=12"
    [says] = [w.says for w in scene(STONE + WASH, long).warnings if w.key == "repeats"]
    assert 'every 3.60 m x 1.80 m, 3.3 times across in the view "front"' in says
    assert "repeats" not in keys(scene(STONE + WASH, "room.width=9"))


def test_repeats_that_cannot_be_seen_are_not_named(scene):
    long = "room.width=15"
    assert "repeats" not in keys(scene(STONE + WASH, long, "relief.1.repeat=mirror"))
    # a camera that has two metres of the wall in its frame, and no other
    near = '[[camera]]\nname = "near"\neye = [2, 3, 1.5]\nlook_at = [2, 5, 1.5]\nlens = 35\n'
    assert "repeats" not in keys(scene(STONE + WASH + near, long, "room.depth=5"))


@pytest.mark.parametrize("regular", ["running-brick", "vertical-slats", "folded-tile"])
def test_what_is_regular_by_nature_may_come_again(scene, regular):
    relief = f'[[relief]]\ntexture = "{regular}"\n'
    assert "repeats" not in keys(scene(relief + WASH, "room.width=15"))


def test_boards_repeat_across_and_not_along_the_boards(scene):
    boards = '[[relief]]\ntexture = "board-concrete"\n'
    assert "repeats" not in keys(scene(boards + WASH, "room.height=8", "room.width=5"))


def test_likeness_of_made_textures():
    rng = np.random.default_rng(1)
    noise = rng.random((200, 300)).astype(np.float32)
    assert max(likeness(noise)) < 0.1
    stripes = np.tile(rng.random(30), 10)[None].repeat(200, 0).astype(np.float32)
    across, up = likeness(stripes)
    assert across > 0.95
    assert up == pytest.approx(1.0)


def test_two_reliefs_at_a_corner_are_named(scene):
    both = scene(STONE + '[[relief]]\non = "left"\ntexture = "split-ledgestone"\n' + WASH)
    assert "reliefs_meet" in keys(both)
    apart = scene(STONE + '[[relief]]\non = "opposite"\ntexture = "split-ledgestone"\n' + WASH)
    assert "reliefs_meet" not in keys(apart)


def test_texts_speak_the_scenes_unit(scene):
    for caveat in scene(STONE + GRAZE.replace("6 in", "45 mm"), "units.length=in").warnings:
        assert " m " not in caveat.says
        assert " mm" not in caveat.says


def test_warnings_are_pure_functions_of_records(scene):
    plan = scene(WASH).runs[0]
    wall = SimpleNamespace(relief=None, name="main", grid=None)
    close = replace(plan, setback_m=0.149)
    assert warnings.close_on_smooth(close, wall, "mm")[0].place == "run L1"
    assert warnings.close_on_smooth(replace(plan, setback_m=0.15), wall, "mm") == []
    assert not np.isnan(plan.clear_gap_m)
