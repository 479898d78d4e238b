"""Ranges as people type them, and what a knob lays over a scene."""

import math

import pytest

from rakelight.errors import InputError
from rakelight.read.toml import lay_values, read_scene
from rakelight.study.knobs import KNOBS, assignments, chosen_runs, knob
from rakelight.study.ranges import expand, labels, parse_range

SETBACK, TILT, DIM, FILE = (knob(key) for key in ("setback", "tilt", "dim", "file"))


def refused(one, text):
    with pytest.raises(InputError) as fault:
        parse_range(one, text, "mm")
    assert len(fault.value.faults) == 1
    assert "\n" not in fault.value.faults[0]
    return fault.value.faults[0]


def test_a_range_in_either_unit_holds_both_ends():
    inches = parse_range(SETBACK, "2in:6in:1in", "mm")
    assert expand(inches) == pytest.approx([0.0508, 0.0762, 0.1016, 0.127, 0.1524])
    assert labels(inches, expand(inches)) == ("2 in", "3 in", "4 in", "5 in", "6 in")
    bare = parse_range(SETBACK, "50:150:50", "mm")
    assert expand(bare) == pytest.approx([0.05, 0.1, 0.15])
    assert labels(bare, expand(bare)) == ("50 mm", "100 mm", "150 mm")
    # a tenth is not a binary number, and the last step must not be lost to that
    assert len(expand(parse_range(SETBACK, "0.1 m:0.7 m:0.1 m", "m"))) == 7


def test_against_is_the_least_and_whole_steps_follow():
    asked = parse_range(SETBACK, "against:4in:1in", "mm")
    assert asked.needs_least
    values = expand(asked, 0.0361)  # 1.42 in
    assert values[0] == "against"
    assert values[1:] == pytest.approx([0.0508, 0.0762, 0.1016])
    assert labels(asked, values, 0.0361)[0] == "against (1 1/2 in)"
    # a least setback on a whole step is not told twice
    assert expand(asked, 0.0508)[1:] == pytest.approx([0.0762, 0.1016])
    with pytest.raises(InputError, match="least setback that clears"):
        expand(asked, 0.2)


def test_labels_are_never_alike():
    fine = parse_range(SETBACK, "2in:2.1in:0.05in", "mm")
    said = labels(fine, expand(fine))
    assert len(set(said)) == 3
    assert said[1] == "2.05 in"


def test_angles_shares_and_names():
    assert expand(parse_range(TILT, "-10deg:10deg:5deg", "m"))[0] == pytest.approx(-math.pi / 18)
    assert expand(parse_range(DIM, "20%:100%:40%", "m")) == pytest.approx([0.2, 0.6, 1.0])
    assert expand(parse_range(FILE, "graze-narrow, wash-flat", "m")) == (
        "graze-narrow",
        "wash-flat",
    )
    assert expand(parse_range(SETBACK, "3in,6in,1ft", "m")) == pytest.approx(
        [0.0762, 0.1524, 0.3048]
    )


@pytest.mark.parametrize(
    ("one", "text", "says"),
    [
        (SETBACK, "", "is empty"),
        (SETBACK, "12in:2in:1in", "reversed"),
        (SETBACK, "2in:12in:0in", "above 0"),
        (SETBACK, "2in:12in:-1in", "out of range"),
        (SETBACK, "2in:12in", "not start:stop:step"),
        (SETBACK, "2in::1in", "missing"),
        (SETBACK, "2deg:12deg:1deg", "not a length"),
        (SETBACK, "2in:10ft:0.1mm", "240 at most"),
        (SETBACK, "2in:2.5in:1in", "one value"),
        (SETBACK, "6in", "one value"),
        (SETBACK, "6in,3in", "does not go up"),
        (SETBACK, "3in,3in", "twice"),
        (SETBACK, "3in:against:1in", '"against" can only be'),
        (SETBACK, "-2in:4in:1in", "out of range"),
        (TILT, "0in:5in:1in", "not an angle"),
        (TILT, "against:5:1", '"against" can only be'),
        (DIM, "50%:200%:50%", "out of range"),
        (DIM, "nan:1:0.1", "not a share"),
        (FILE, "graze-narrow", "two or more"),
        (FILE, "graze-narrow,", "empty name"),
        (FILE, "wash-flat,wash-flat", "twice"),
    ],
)
def test_bad_ranges_are_refused_in_one_line(one, text, says):
    fault = refused(one, text)
    assert says in fault
    assert fault.startswith(f'--{one.key} "{text}"')


def test_every_knob_lands_in_the_scene():
    hall = read_scene("ticket-hall-graze")
    chapel = read_scene("chapel-cove")
    values = {
        "setback": 0.123, "tilt": 0.1, "drop": 0.07, "dim": 0.35, "gap": 0.012,
        "file": "wash-flat", "relief": "running-brick", "relief-depth": 0.021,
        "distance-below": 0.3,
    }  # fmt: skip
    assert set(values) == {one.key for one in KNOBS}  # a new knob needs a line here
    for key, value in values.items():
        scene = chapel if key == "distance-below" else hall
        runs = chosen_runs(scene)
        laid = lay_values(scene, assignments(scene, runs, {key: value})).tables
        found = {
            "setback": lambda t=laid: t.run[0].setback_m,
            "tilt": lambda t=laid: t.run[0].tilt_rad,
            "drop": lambda t=laid: t.run[0].drop_m,
            "dim": lambda t=laid: t.run[0].dim,
            "gap": lambda t=laid: t.run[0].gap_m,
            "file": lambda t=laid: t.run[0].photometry,
            "relief": lambda t=laid: t.relief[0].texture,
            "relief-depth": lambda t=laid: t.relief[0].depth_m,
            "distance-below": lambda t=laid: t.cove[1].down_m,
        }[key]()
        assert found == (value if isinstance(value, str) else pytest.approx(value, rel=1e-9))


def test_runs_are_those_of_the_lit_surface_unless_named():
    assert chosen_runs(read_scene("chapel-cove")) == (0, 1)
    assert chosen_runs(read_scene("spa-corridor")) == (0,)  # the other lights the floor
    assert chosen_runs(read_scene("spa-corridor"), ["W1"]) == (1,)
    with pytest.raises(InputError, match="there are V1, W1"):
        chosen_runs(read_scene("spa-corridor"), ["X"])
    with pytest.raises(InputError, match="no \\[\\[run\\]\\]"):
        chosen_runs(read_scene("ticket-hall"))


def test_a_distance_below_the_ceiling_needs_a_cove():
    hall = read_scene("ticket-hall-graze")
    with pytest.raises(InputError, match="use --drop"):
        assignments(hall, (0,), {"distance-below": 0.3})
