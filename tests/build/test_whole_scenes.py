"""Whole scenes: shipped names, missing files, all faults at once, a bare room handed in."""

import pytest

from rakelight.build.room import build_bare_room
from rakelight.build.scene import build_read_scene, build_scene
from rakelight.read.toml import lay_values, read_scene
from rakelight.scene.quality import Quality
from reference.refusals import refused

COARSE = Quality(mesh_step_m=0.1, plane_step_m=0.5)
RUN = '[[run]]\nphotometry = "graze-narrow"\nsetback = "6 in"\n'


def test_a_shipped_scene_builds_with_shipped_names_alone(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text('[[relief]]\ntexture = "split-ledgestone"\n' + RUN)
    scene = build_scene(path, quality=COARSE)
    assert scene.room.surface("main").relief is not None
    assert scene.room.lines()[0].lumens > 100


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("graze-narow", 'not shipped. Did you mean "graze-narrow"?'),
        ("optics/gone.ies", "no such file. A path starts at the folder"),
        ("own.toml", "own.toml: "),
    ],
)
def test_a_photometric_file_that_is_not_there_is_refused(tmp_path, name, says):
    path = tmp_path / "own.toml"
    path.write_text(RUN.replace("graze-narrow", name))
    [line] = refused(build_scene, path, quality=COARSE)
    assert says in line


def test_faults_of_reliefs_runs_and_cameras_come_together(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(
        '[[relief]]\ntexture = "gone.png"\n' + RUN.replace("graze-narrow", "made.ies")
        + RUN.replace("6 in", "9 m") + '[[camera]]\nname = "own"\n'
    )  # fmt: skip
    lines = refused(build_scene, path)
    assert [line.split(": ")[1].split(",")[0] for line in lines] == [
        "[[relief]] 1", "[[run]] 1", "[[run]] 2", "[[camera]] 1",
    ]  # fmt: skip


def test_a_sweep_may_hand_the_bare_room_in_again(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text('[[relief]]\ntexture = "split-ledgestone"\n' + RUN)
    scene_file = read_scene(path)
    bare = build_bare_room(scene_file, COARSE)
    for setback in ("4 in", "against", 0.5):
        moved = lay_values(scene_file, {"run.1.setback": setback})
        again = build_read_scene(moved, quality=COARSE, bare_room=bare)
        fresh = build_read_scene(moved, quality=COARSE)
        assert again.runs == fresh.runs
        assert again.warnings == fresh.warnings
        assert again.room.surface("main").relief is bare.room.surface("main").relief
