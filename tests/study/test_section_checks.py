"""Warnings that sections give before anything is lit, and eyes on the floor plan."""

import pytest

from rakelight.build.scene import build_scene
from rakelight.cli.scenes import located
from rakelight.errors import InputError
from rakelight.study.noted import with_shading_notes
from rakelight.study.section_checks import (
    eye_numbers,
    named_eye_numbers,
    section_warnings,
    sections_of,
    with_section_warnings,
)

COVE = """
[units]
length = "mm"
[room]
width = 6000
depth = {depth}
height = 3000
[[cove]]
tag = "C1"
ledge = 200
lip = {lip}
below_ceiling = 300
[[run]]
tag = "G1"
on = "C1"
photometry = "cove-throw"
setback = 90
housing = {{ width = 60, height = 45 }}
[[eye]]
name = "stair"
at = [3000, 3000]
height = {eye}
"""


def scene_of(tmp_path, depth=4000, lip=60, eye=1600, more=()):
    path = tmp_path / "cove.toml"
    path.write_text(COVE.format(depth=depth, lip=lip, eye=eye))
    return build_scene(path, list(more))


def keys(scene):
    return [w.key for section in sections_of(scene) for w in section_warnings(section, "mm")]


def test_a_lip_that_hides_and_clears_is_passed_over(tmp_path):
    # its half-peak direction leaves at about 2.7 deg: 7 mm higher at the lip than at the opening
    assert "cuts_the_throw" in keys(scene_of(tmp_path, lip=60))
    assert keys(scene_of(tmp_path, lip=46)).count("cuts_the_throw") == 0
    assert "shut_in" in keys(scene_of(tmp_path, lip=296))


def test_the_corner_that_a_warning_promises_is_met(tmp_path):
    [section] = sections_of(scene_of(tmp_path, lip=70))
    [line] = [c for c in section.cut_offs if c.on == "ceiling"]
    [warning] = [w for w in section_warnings(section, "mm") if w.key == "cut_off_line"]
    assert warning.place == "run G1"
    assert f"{line.from_corner_m * 1000:.0f} mm from the corner" in warning.says
    edge_mm = line.edge_for_corner_m * 1000
    assert f"its edge {edge_mm:.0f} mm over the floor" in warning.says
    lower = scene_of(tmp_path, lip=edge_mm - 2700)  # the ledge lies 300 mm below 3000
    assert "cut_off_line" not in keys(lower)
    assert abs(sections_of(lower)[0].cut_offs[0].from_corner_m) < 1e-4


def test_tilting_into_the_lip_leaves_no_height_that_does_both(tmp_path):
    # the beam down by 25 deg: its half-peak line leaves below level, and no lip clears it that
    # also hides the opening
    flat = scene_of(tmp_path, depth=9000, lip=60, more=['run.G1.beam_aim="75 deg"'])
    assert "no_screen_does_both" in keys(flat)


def test_warnings_come_once(tmp_path):
    once = with_section_warnings(scene_of(tmp_path))
    assert with_section_warnings(once).warnings == once.warnings
    assert with_shading_notes(once).warnings == once.warnings


def test_eyes_over_the_lip_see_it_and_eyes_below_do_not(tmp_path):
    low, high = scene_of(tmp_path, eye=1600), scene_of(tmp_path, eye=2990)
    # 1 m from the wall: the line from (1000, 2990) to (90, 2745) passes the lip at 2778 mm, over
    # its edge at 2760 (similar triangles)
    for scene, seen in ((low, 0.0), (high, 1.0)):
        found = {n.key: n.value for n in named_eye_numbers(scene, scene.runs[0])}
        assert found["run.G1.sight.eye.stair.seen"] == seen
    numbers = {n.key: n.value for n in eye_numbers(low)}
    assert numbers["run.G1.sight.1800.plan_share"] == 0


def test_a_pendant_is_seen_from_all_over_the_plan():
    scene = build_scene(located("workshop"), ['run.W1.tilt="15 deg toward"'])
    numbers = {n.key: n.value for n in eye_numbers(scene)}
    assert numbers["run.W1.sight.1600.plan_share"] > 0.9
    assert numbers["run.U1.sight.1600.plan_share"] == 0  # it faces up, over every eye


def test_a_cove_that_cannot_be_built_is_the_only_fault(tmp_path):
    with pytest.raises(InputError) as caught:
        scene_of(tmp_path, lip=400)
    [fault] = caught.value.faults
    assert "the lip would reach the ceiling" in fault
