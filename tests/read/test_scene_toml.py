"""Scenes from TOML: defaults, units, and every fault in plain words."""

import math
import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rakelight.errors import InputError
from rakelight.read.toml import read_scene

SMALLEST = """
[room]
width = "16 ft"
height = "9 ft"
[[relief]]
texture = "split-ledgestone"
[[run]]
photometry = "graze-narrow"
setback = "6 in"
"""


def faults(path, overrides=()):
    with pytest.raises(InputError) as caught:
        read_scene(path, overrides)
    return list(caught.value.faults)


def test_the_smallest_useful_scene_is_under_fifteen_lines_and_has_every_default(write):
    assert len(SMALLEST.strip().splitlines()) < 15
    scene = read_scene(write(SMALLEST))
    assert scene.name == "hall"
    assert scene.tables.room.width_m == pytest.approx(4.8768, rel=1e-12)
    assert scene.tables.room.depth_m == 3.6
    assert scene.tables.relief[0].on == "main"
    run = scene.tables.run[0]
    assert (run.setback_m, run.dim, run.maintenance, run.cct_k) == (0.1524, 1, 1, 3000)


def test_bare_numbers_take_the_declared_units_and_strings_their_own(write):
    scene = read_scene(
        write(
            """
            [room]
            width = 16
            height = "9 ft"
            [units]            # may stand anywhere
            length = "ft"
            illuminance = "fc"
            [surface.main]
            other_light = 2
            [other_light]
            all = "8 lx"
            [[run]]
            photometry = "x"
            setback = "150 mm"
            housing = { width = 0.25, height = "3 in" }
            """
        )
    )
    assert scene.tables.room.width_m == pytest.approx(4.8768, rel=1e-12)
    assert scene.tables.room.height_m == pytest.approx(2.7432, rel=1e-12)
    assert scene.tables.surface.main.other_light_lx == pytest.approx(21.52782, rel=1e-6)
    assert scene.tables.other_light.all_lx == 8
    assert scene.tables.run[0].setback_m == 0.15
    assert scene.tables.run[0].housing.width_m == pytest.approx(0.0762, rel=1e-12)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(inches=st.floats(0.5, 200), width=st.floats(20, 2000))
def test_one_scene_in_any_unit_gives_the_same_lengths(write, inches, width):
    per_inch = {"in": 1.0, "ft": 1 / 12, "mm": 25.4, "m": 0.0254}
    read = []
    for unit, factor in per_inch.items():
        path = write(
            f'[units]\nlength = "{unit}"\n[room]\nwidth = {width * factor!r}\n'
            f'[[run]]\nphotometry = "x"\nsetback = {inches * factor!r}\n'
        )
        scene = read_scene(path)
        read.append((scene.tables.room.width_m, scene.tables.run[0].setback_m))
    for other in read[1:]:
        assert other == pytest.approx(read[0], rel=1e-9)


def test_every_fault_is_said_at_once_with_file_table_and_key(write):
    path = write(
        """
        titel = "x"
        [room]
        width = "wide"
        depth = -3
        setback = 2
        [surface.main]
        reflectance = 1.5
        [[run]]
        photometry = "graze-narrow"
        setback = "6 in"
        lights = "roof"
        [[run]]
        photometry = 5
        setbck = "6 in"
        dim = 80
        cct = "warm"
        tilt = "steep"
        housing = { width = "2 in" }
        [picture]
        figure = "yes"
        width = "1920"
        """
    )
    lines = faults(path)
    expected = [
        'hall.toml: "titel": no such key. Did you mean "title"?',
        'hall.toml: [room], "width" = "wide": "wide" is not a length such as',
        'hall.toml: [room], "depth" = -3: must be 100 mm or more.',
        'hall.toml: [room], "setback": no such key here. It belongs in [[cove]] or [[run]].',
        'hall.toml: [surface.main], "reflectance" = 1.5: must lie between 0 and 1; right is 0.5',
        'hall.toml: [[run]] 1, "lights" = "roof": must be "main", "opposite", "left", "right", ',
        'hall.toml: [[run]] 2, "photometry" = 5: must be text, in quotes.',
        'hall.toml: [[run]] 2, "setbck": no such key. Did you mean "setback"?',
        'hall.toml: [[run]] 2, "dim" = 80: must lie between 0 and 1.',
        'hall.toml: [[run]] 2, "cct" = "warm": "warm" is not a colour temperature such as',
        'hall.toml: [[run]] 2, "tilt" = "steep": "steep" is not an angle such as',
        'hall.toml: [[run]] 2, [housing], "height": missing.',
        'hall.toml: [picture], "figure" = "yes": must be true or false, without quotes.',
        'hall.toml: [picture], "width" = "1920": must be a whole number',
    ]
    for line in expected:
        assert any(said.startswith(line) for said in lines), (line, lines)
    assert len(lines) == len(expected)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[run]\nsetback = 1", "[run]: must be written [[run]], once for each run."),
        ("[[room]]\nwidth = 1", '"room": must be a table, written [room] once'),
        ('room = "big"', '"room": must be a table'),
        ("[[camera]]\nname = 'a'\neye = [1, 2]", '"eye" = [1, 2]: must be three lengths'),
        ("[other_light]\nall = -1", '"all" = -1: must be 0 or more.'),
        ("[room]\nwidth = nan", "nan is not a length"),
        ("[room]\nwidth = 4800", "longer than 1000 m; a bare number is in m here"),
        ("[units]\nlength = 'yards'", '"length" = "yards": must be "m", "mm", "ft" or "in".'),
        ("[quality]\nazimuths = 0", "must be a whole number, 1 or more"),
        ("[picture]\nev100 = true", 'must be a number without quotes, or "auto"'),
        ("[picture]\nwidth = 1e3", "must be a whole number"),
        ("[surface.wall]\nreflectance = 0.5", 'no such key. There are main, opposite'),
        ("[surface.main]\nreflectance = '#12345'", "right is 0.5"),
        ("[surface.main]\nreflectance = [0.1, 0.2]", "must have three values"),
        ("[[run]]\nphotometry='x'\nsetback='6 in'\ntilt=1\nbeam_aim='base'",
         'hall.toml: [[run]] 1: "tilt" and "beam_aim" are both stated'),
        ("[[run]]\nphotometry='x'\nsetback=1\nstart=2\nend=1", '"end" must lie beyond "start"'),
        ("[[run]]\nphotometry='x'\nsetback=1\ntag='7'", 'not a bare number'),
        ("[[run]]\nphotometry='x'\nsetback='touching'", 'or use "against"'),
        ("[[run]]\nphotometry='x'\nsetback=0", "must be above 0"),
        ("[[run]]\nphotometry='x'\nsetback=1\ntag='a'\n[[run]]\nphotometry='x'\nsetback=1\ntag='a'",
         'two [[run]] have "tag" = "a"'),
        ("[[relief]]\ntexture='a'\n[[relief]]\ntexture='b'", 'two [[relief]] have "on" = "main"'),
        ("[[run]]\nphotometry='x'\nsetback=1\ntilt='200 deg'", "between -180 and 180 deg"),
        ("[[run]]\nphotometry='x'\nsetback=1\ntilt='-5 deg away'", '0 or more before "away"'),
        ("[[relief]]\ntexture='x'\nwidth='1 mm'", '"width" = "1 mm": must be 5 mm or more'),
        ("title = 1979-05-27", "must be text, in quotes"),
        ("[picture]\nsupersample = 9", "must be at most 8"),
    ],
)  # fmt: skip
def test_wrong_values_are_said_in_plain_words(write, text, says):
    lines = faults(write(text))
    assert len(lines) == 1
    assert says in lines[0]
    assert lines[0].startswith("hall.toml: ")


@pytest.mark.parametrize(
    ("words", "degrees"),
    [("12 deg", 12), (12, 12), ("12 deg toward", 12), ("12 deg away", -12),
     ("15 deg above horizontal", 105), ("5 deg below horizontal", 85), ("0.2 rad", 11.459156)],
)  # fmt: skip
def test_directions_are_read_as_people_say_them(write, words, degrees):
    text = f"[[run]]\nphotometry='x'\nsetback=1\nbeam_aim={words!r}"
    assert math.degrees(read_scene(write(text)).tables.run[0].beam_aim_rad) == pytest.approx(
        degrees
    )


def test_reflectance_as_grey_colour_or_linear(write):
    text = """
    [surface]
    main.reflectance = 0.5
    left.reflectance = '#c8b9a2'
    right.reflectance = [0.1, 0.2, 0.3]
    """
    surface = read_scene(write(text)).tables.surface
    assert surface.main.reflectance == (0.5, 0.5, 0.5)
    # IEC 61966-2-1: code 200 is 0.577580, 185 is 0.485150, 162 is 0.361307 linear
    assert surface.left.reflectance == pytest.approx((0.577580, 0.485150, 0.361307), abs=1e-5)
    assert surface.right.reflectance == (0.1, 0.2, 0.3)


@pytest.mark.parametrize(
    ("text", "line"),
    [("[room]\nwidth = = 3\n", 2), ("[room\n", 1), ("a = 1\na = 2\n", 2), ('x = "open\n', 1),
     ("[room]\nwidth = 3 m\n", 2)],
)  # fmt: skip
def test_a_toml_fault_names_its_line(write, text, line):
    [said] = faults(write(text))
    assert said.startswith(f"hall.toml: line {line}")
    assert "not TOML" in said


def test_a_missing_key_is_named_with_what_it_takes(write):
    assert faults(write("[[run]]\nphotometry='x'\n")) == [
        'hall.toml: [[run]] 1, "setback": missing. From the wall\'s mean plane to the centre of '
        "the opening; `against` is the least at which relief and housing clear. Right is a "
        'length above 0, or `"against"`.'
    ]


def test_unreadable_paths_are_refused(tmp_path):
    assert faults(tmp_path / "none.toml") == [f"{tmp_path / 'none.toml'}: no such file."]
    assert "is a folder" in faults(tmp_path)[0]
    binary = tmp_path / "b.toml"
    binary.write_bytes(b"\x89PNG\r\n\x00\xff")
    assert "not text" in faults(binary)[0]
    os.mkfifo(tmp_path / "pipe.toml")
    assert "not an ordinary file" in faults(tmp_path / "pipe.toml")[0]
    deep = tmp_path / "deep.toml"
    deep.write_text("a = " + "[" * 50_000)
    assert len(faults(deep)) == 1
    big = tmp_path / "big.toml"
    big.write_bytes(b"# " + b"x" * 2_000_100)
    assert "larger than 2 MB" in faults(big)[0]
    assert "cannot be read" in faults("bad\0name.toml")[0] or "no such file" in faults("bad\0n")[0]


def test_a_mark_at_the_start_and_windows_line_ends_are_read(tmp_path):
    path = tmp_path / "hall.toml"
    path.write_bytes(b"\xef\xbb\xbf[room]\r\nwidth = 5\r\n")
    assert read_scene(path).tables.room.width_m == 5


KEYS = st.sampled_from(["room", "run", "width", "extends", "surface", "main", "x", "tag"])
VALUES = st.recursive(
    st.one_of(st.integers(-5, 5), st.sampled_from(['"6 in"', '"base"', "nan", "true", '"'])),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=5,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["{k} = {v}", "[{k}]", "[[{k}]]"]), KEYS, VALUES)))
def test_any_text_gives_a_scene_or_an_input_error(write, lines):
    text = "\n".join(form.format(k=key, v=value) for form, key, value in lines)
    try:
        read_scene(write(text.replace("'", "")), ["run.1.tag=a"])
    except InputError as error:
        said = error.faults
    else:
        said = ("none",)
    assert all(said)
