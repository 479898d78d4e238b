"""Scenes over scenes: extends, shipped names, and values laid over by the command."""

import math

import pytest

from rakelight.errors import InputError
from rakelight.read.toml import lay_values, read_scene


def faults(path, overrides=()):
    with pytest.raises(InputError) as caught:
        read_scene(path, overrides)
    return list(caught.value.faults)


BASE = """
title = "base"
[room]
width = 5
height = 3
[[run]]
tag = "G1"
photometry = "optics/a.ies"
setback = "6 in"
tilt = "5 deg"
[[run]]
tag = "G2"
photometry = "a"
setback = 1
"""


def test_extends_lays_tables_over_tables_and_runs_over_runs_of_the_same_tag(write):
    write(BASE, "lib/base.toml")
    path = write(
        'extends = "lib/base.toml"\n[room]\nwidth = 6\n[[run]]\ntag = "G2"\nsetback = "3 in"\n'
    )
    scene = read_scene(path)
    assert (scene.tables.room.width_m, scene.tables.room.height_m) == (6, 3)
    assert scene.tables.title == "base"
    assert [run.tag for run in scene.tables.run] == ["G1", "G2"]
    assert scene.tables.run[1].setback_m == 0.0762
    assert scene.tables.run[1].photometry == "a"
    assert scene.folder_of("run", 0, "photometry") == path.parent / "lib"
    assert scene.folder_of("run", 1, "setback") == path.parent
    assert scene.notes == ("hall.toml extends lib/base.toml",)


def test_a_list_with_an_unknown_entry_replaces_the_list_below(write):
    write(BASE, "base.toml")
    path = write('extends = "base.toml"\n[[run]]\ntag = "W"\nphotometry = "b"\nsetback = 1\n')
    assert [run.tag for run in read_scene(path).tables.run] == ["W"]


def test_a_beam_aim_withdraws_the_tilt_below_it(write):
    write(BASE, "base.toml")
    path = write('extends = "base.toml"\n[[run]]\ntag = "G1"\nbeam_aim = "base"\n')
    run = read_scene(path).tables.run[0]
    assert (run.tilt_rad, run.beam_aim_rad) == (None, "base")
    back = read_scene(path, ["run.G1.tilt=3"]).tables.run[0]
    assert (back.tilt_rad, back.beam_aim_rad) == (pytest.approx(math.radians(3)), None)


def test_a_chain_of_three_and_a_fault_in_the_middle_names_that_file(write):
    write('[room]\nwidth = 5\n[[run]]\ntag = "A"\nphotometry = "a"\nsetback = 1\n', "one.toml")
    write('extends = "one.toml"\n[room]\nheight = 3\n', "two.toml")
    top = write('extends = "two.toml"\n[room]\ndepth = 4\n', "three.toml")
    room = read_scene(top).tables.room
    assert (room.width_m, room.depth_m, room.height_m) == (5, 4, 3)
    write('extends = "one.toml"\n[room]\nheigth = 3\n', "two.toml")
    assert faults(top) == ['two.toml: [room], "heigth": no such key. Did you mean "height"?']


def test_a_fault_names_the_place_of_a_run_in_the_file_that_states_it(write):
    write(BASE, "base.toml")
    top = write('extends = "base.toml"\n[[run]]\ntag = "G2"\ndim = 3\n')
    assert faults(top) == ['hall.toml: [[run]] 1, "dim" = 3: must lie between 0 and 1.']


def test_a_missing_or_circular_extends_is_refused(write):
    path = write('extends = "gone.toml"\n')
    assert faults(path) == [
        'hall.toml: "extends" = "gone.toml": no such file. '
        "A path starts at the folder of this file; a shipped scene has a name without ending."
    ]
    write('extends = "hall.toml"\n', "other.toml")
    path = write('extends = "./other.toml"\n')
    [line] = faults(path)
    assert "goes round in a circle (hall.toml -> other.toml -> hall.toml)" in line
    [line] = faults(write('extends = "hall.toml"\n'))
    assert "goes round in a circle (hall.toml -> hall.toml)" in line
    assert "must be the path of a scene" in faults(write("extends = 3\n"))[0]


def test_shipped_scenes_are_known_by_their_names(write, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    assert read_scene("ticket-hall-graze").tables.title == "Ticket hall, graze"
    scene = read_scene(write('extends = "ticket-hall-graze"\n[[run]]\ntag = "G1"\ndim = 0.5\n'))
    assert (scene.tables.run[0].dim, scene.tables.room.height_m) == (0.5, 2.7)
    assert faults("ticket-hal") == ["ticket-hal: no such file."]


def test_notes_say_what_was_set(write):
    assert read_scene(write(BASE), ["run.G1.dim=0.5"]).notes == ("set run.G1.dim=0.5",)


@pytest.mark.parametrize(
    ("override", "expected"),
    [
        ("run.1.setback=6in", 0.1524),
        ('run.G1.setback="3 in"', 0.0762),
        ("run.G1.setback=0.2", 0.2),
        ("run.1.setback = 9 ft 6 in", 2.8956),
        ("run.1.setback=against", "against"),
    ],
)
def test_overrides_take_toml_values_or_bare_text(write, override, expected):
    assert read_scene(write(BASE), [override]).tables.run[0].setback_m == expected


def test_overrides_reach_tables_that_the_scene_does_not_state(write):
    scene = read_scene(
        write(BASE),
        ["surface.main.reflectance=#fefefe", "picture.ev100=3", "other_light.all=1 fc",
         "room.height=9 ft", "run.G2.housing={width=0.1, height=0.1}", "run.G2.dim=0.5"],
    )  # fmt: skip
    tables = scene.tables
    assert tables.surface.main.reflectance == pytest.approx([0.99111] * 3, rel=1e-4)
    assert (tables.picture.ev100, tables.room.height_m) == (3, 2.7432)
    assert tables.other_light.all_lx == pytest.approx(10.76391, rel=1e-6)
    assert (tables.run[1].housing.width_m, tables.run[1].dim) == (0.1, 0.5)


@pytest.mark.parametrize(
    ("override", "says"),
    [
        ("run.3.dim=1", "--set run.3.dim: there is no [[run]] 3; the scene has 2."),
        ("run.G9.dim=1", '--set run.G9.dim: no [[run]] is called "G9"; there is "G1", "G2".'),
        ("camera.1.lens=20", "--set camera.1.lens: the scene has no [[camera]]."),
        ("title.x=1", '"title" is a value, not a table'),
        ("dim", "right is KEY=VALUE"),
        ("=3", "right is KEY=VALUE"),
        ("run..dim=3", "right is KEY=VALUE"),
        ("run.1.setbck=3", '--set: [[run]] 1, "setbck": no such key. Did you mean "setback"?'),
        ("run.1.dim=7", '--set: [[run]] 1, "dim" = 7: must lie between 0 and 1.'),
        ("room=3", '--set: "room": must be a table'),
    ],
)
def test_wrong_overrides_are_refused(write, override, says):
    [line] = faults(write(BASE), [override])
    assert says in line


def test_values_laid_over_a_scene_leave_it_as_it_was(write):
    scene = read_scene(write(BASE))
    other = lay_values(scene, {"run.G1.setback": "12 in", "room.width": 7})
    assert other.tables.run[0].setback_m == 0.3048
    assert scene.tables.run[0].setback_m == 0.1524
    assert (scene.raw["room"]["width"], other.raw["room"]["width"]) == (5, 7)
