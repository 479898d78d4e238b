"""`check` and `new` as commands."""

import json

import pytest
from click.testing import CliRunner

from rakelight.build.scene import build_scene
from rakelight.cli.check import check
from rakelight.cli.new import new
from rakelight.errors import InputError
from rakelight.scene.quality import Quality
from rakelight.tell.starter import STARTER

SCENE = """
[units]
length = "in"
[room]
width = "16 ft"
[[run]]
tag = "G1"
photometry = "graze-narrow"
setback = "6 in"
"""


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "hall.toml"
    file.write_text(SCENE)
    return file


def run(command, *arguments):
    return CliRunner().invoke(command, [str(a) for a in arguments], catch_exceptions=True)


def test_check_prints_stated_values_defaults_runs_and_warnings(path):
    result = run(check, path)
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert 'width = "192 in"' in lines
    assert 'depth = "141 3/4 in"  # default' in lines
    assert 'setback = "6 in"' in lines
    assert "Run G1, graze-narrow.ies, lights main" in lines
    assert any("clear gap to the highest point 5 3/8 in" in line for line in lines)
    assert any("the peak lands" in line for line in lines)
    assert "main: 0.500, 0.500, 0.500; 0.0 lx" in lines
    assert lines[-1] == "No warnings."


def test_check_lays_values_over_the_scene(path):
    result = run(check, path, "--set", "run.G1.setback=3in", "--set", "room.height=10 ft")
    assert 'setback = "3 in"' in result.output
    assert 'height = "120 in"' in result.output
    assert "Warnings\n- run G1: only 3 in from a nearly flat surface" in result.output


def test_check_as_json_keeps_every_digit_in_si(path):
    result = run(check, path, "--json")
    record = json.loads(result.output)
    assert record["tables"]["room"]["width_m"] == pytest.approx(4.8768, rel=1e-12)
    [plan] = record["runs"]
    assert plan["setback_m"] == 0.1524
    assert plan["tag"] == "G1"
    assert {s["name"] for s in record["surfaces"]} >= {"main", "ceiling"}
    assert record["warnings"] == []
    assert str(path.parent) not in result.output


def test_check_twice_gives_the_same_bytes_in_any_folder(path, tmp_path):
    other = tmp_path / "deep" / "hall.toml"
    other.parent.mkdir()
    other.write_text(SCENE)
    assert run(check, path).output == run(check, other).output
    assert run(check, path, "--json").output == run(check, other, "--json").output


def test_faults_leave_as_an_input_error_with_all_lines(path):
    path.write_text(SCENE.replace("setback", "setbck").replace("width", "widht"))
    result = run(check, path)
    assert isinstance(result.exception, InputError)
    assert len(result.exception.faults) == 2


def test_the_starter_builds_as_it_stands_without_warnings_of_its_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run(new)
    assert result.exit_code == 0
    assert (tmp_path / "scene.toml").read_text() == STARTER
    assert [p.name for p in tmp_path.iterdir()] == ["scene.toml"]
    scene = build_scene("scene.toml", quality=Quality(mesh_step_m=0.02, plane_step_m=0.3))
    assert scene.title == "First graze"
    assert {w.key for w in scene.warnings} == set()
    assert run(check, "scene.toml").exit_code == 0


def test_every_commented_key_of_the_starter_is_a_key(tmp_path):
    """A user who takes a comment's # away gets a scene that is right."""
    path = tmp_path / "all.toml"
    bare = STARTER.replace('# beam_aim = "base"', 'beam_aim = "base"')
    path.write_text(bare.replace("# [other_light]\n# all", "[other_light]\nall"))
    scene = build_scene(path, quality=Quality(mesh_step_m=0.1, plane_step_m=0.5))
    assert scene.tables.other_light.all_lx == 8
    assert scene.tables.run[0].beam_aim_rad == "base"
    path.write_text(STARTER.replace('# tilt = "5 deg"', 'tilt = "5 deg"'))
    build_scene(path, quality=Quality(mesh_step_m=0.1, plane_step_m=0.5))


def test_new_never_overwrites(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("mine")
    result = run(new, path)
    assert isinstance(result.exception, InputError)
    assert "exists already" in str(result.exception)
    assert path.read_text() == "mine"


@pytest.mark.parametrize(("name", "says"), [("none/a.toml", "no folder"), ("a.txt", ".toml")])
def test_new_says_where_a_scene_cannot_go(tmp_path, name, says):
    result = run(new, tmp_path / name)
    assert isinstance(result.exception, InputError)
    assert says in str(result.exception)
    assert list(tmp_path.iterdir()) == []


def test_check_says_what_the_light_will_leave_out(tmp_path):
    # the run ends in the corner, within the stone of the wall beside it
    file = tmp_path / "corner.toml"
    file.write_text(
        '[room]\nwidth = "2 m"\n[[relief]]\non = "main"\ntexture = "split-ledgestone"\n'
        '[[relief]]\non = "left"\ntexture = "split-ledgestone"\n'
        '[[run]]\ntag = "G1"\nphotometry = "graze-narrow"\nsetback = "150 mm"\nstart = 0\n'
        '[quality]\nmesh_step = "50 mm"\n'
    )
    result = run(check, file)
    assert result.exit_code == 0, result.output
    notes = result.output.split("\nNotes\n")[1]
    assert "run G1: its end lies" in notes
    assert "within the relief of left" in notes
    record = json.loads(run(check, file, "--json").output)
    assert any("within the relief of left" in note for note in record["notes"])
