"""Gloss in scene files, and what is said about it."""

import pytest

from rakelight.build.scene import build_scene
from rakelight.errors import InputError
from rakelight.scene.quality import Quality

COARSE = Quality(mesh_step_m=0.02, plane_step_m=0.3)
SCENE = """
title = "T"
[surface.floor]
gloss = FLOOR
[surface.main]
gloss = MAIN
[[eye]]
name = "desk"
at = [2.4, 0.8]
height = "1.2 m"
[[run]]
tag = "R"
lights = "main"
photometry = "graze-narrow"
setback = "SETBACK"
drop = "60 mm"
"""


def scene(folder, floor=0.0, main=0.0, setback="100 mm"):
    text = SCENE.replace("FLOOR", str(floor)).replace("MAIN", str(main)).replace("SETBACK", setback)
    path = folder / "room.toml"
    path.write_text(text, encoding="utf-8")
    return build_scene(path, quality=COARSE)


def said(built, key):
    return [w for w in built.warnings if w.key == key]


def test_dull_surfaces_are_not_warned_about(tmp_path):
    built = scene(tmp_path)
    assert not said(built, "gloss_grazed")
    assert not said(built, "source_mirrored")


def test_a_glossy_wall_that_is_grazed_is_named_and_one_that_is_washed_is_not(tmp_path):
    (caveat,) = said(scene(tmp_path, main=0.5), "gloss_grazed")
    assert caveat.place == "run R"
    assert "main wall from 0.10 m" in caveat.says
    assert not said(scene(tmp_path, main=0.5, setback="800 mm"), "gloss_grazed")


def test_a_polished_floor_that_mirrors_the_opening_names_who_sees_it(tmp_path):
    says = [w.says for w in said(scene(tmp_path, floor=0.8), "source_mirrored")]
    assert any("eye desk sees its reflection in floor" in line for line in says)
    assert any("eye of camera seat sees its reflection in floor" in line for line in says)


def test_a_glazed_picture_mirrors_too(tmp_path):
    path = tmp_path / "glass.toml"
    path.write_text(
        'title = "T"\n[[painting]]\nimage = "low-tide"\non = "left"\nwidth = 2\n'
        'glazed = true\nfrom_left = 1.5\nfrom_foot = 1.3\n[[camera]]\nname = "own"\n'
        'eye = [2.4, 2.5, 1.0]\nlook_at = [0, 2.5, 1.6]\n[[run]]\nlights = "main"\n'
        'photometry = "wash-glow"\nsetback = "900 mm"\ndrop = "60 mm"\n',
        encoding="utf-8",
    )
    built = build_scene(path, quality=COARSE)
    says = [w.says for w in said(built, "source_mirrored")]
    assert any("camera own" in line and "painting A1" in line for line in says)


def test_gloss_out_of_range_is_one_line(tmp_path):
    with pytest.raises(InputError) as caught:
        scene(tmp_path, floor=1.5)
    assert len(caught.value.faults) == 1
    assert "gloss" in caught.value.faults[0]
