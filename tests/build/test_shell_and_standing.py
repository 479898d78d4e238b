"""Rooms that are more than boxes: pitched shells, coves, fascias, benches, meshes."""

import numpy as np
import pytest

from rakelight.build.faces import corners_in_room, signed_area
from rakelight.build.shell import shell
from rakelight.build.sight_lines import blocked
from rakelight.scene.tables import RoomTable
from reference.closed_rooms import flux_through, volume
from reference.refusals import refused

# ---- shell ----------------------------------------------------------------------------------

BOX = {"width": 5, "depth": 4, "height": 3}


@pytest.mark.parametrize(
    ("ceiling", "expected"),
    [
        (None, 60.0),
        ({"from": "main", "far": 4}, 5 * 4 * 3.5),
        ({"from": "left", "far": 2}, 5 * 4 * 2.5),
        ({"from": "main", "ridge": 5}, 5 * 4 * 4.0),
        ({"from": "right", "ridge": 4, "ridge_at": 1}, 4 * (1 * 3.5 + 4 * 3.5)),
        ({"from": "opposite", "ridge": 5, "far": 4, "ridge_at": 3}, 5 * (3 * 4.0 + 1 * 4.5)),
    ],
)
def test_a_shell_is_closed_and_holds_its_volume(built, ceiling, expected):
    room = RoomTable.model_validate({**BOX, **({"ceiling": ceiling} if ceiling else {})})
    planes = shell(room)
    total, filled = np.zeros(3), 0.0
    for plane in planes.values():
        area = signed_area(plane.corners_uv_m)
        assert area > 0
        frame = plane.frame
        np.testing.assert_allclose(np.cross(frame.u, frame.v), frame.n, atol=1e-12)
        total += area * frame.n
        filled -= area * (frame.origin_m @ frame.n) / 3
    np.testing.assert_allclose(total, 0, atol=1e-9)
    assert filled == pytest.approx(expected)
    assert len(planes) == (7 if ceiling and "ridge" in ceiling else 6)


def test_a_roof_that_folds_inward_is_refused(built):
    [line] = refused(built, "[room]\nceiling = { ridge = 2.0 }\n")
    assert '"ridge" = 2.0: must be above the straight line' in line
    [line] = refused(built, "[room]\nceiling = { ridge = 3.0, ridge_at = 5 }\n")
    assert '"ridge_at" = 5: the ridge must lie inside the room' in line


def test_drop_counts_from_the_slope_over_the_run(built):
    scene = built(
        '[room]\nceiling = { ridge = 4.5 }\n[[run]]\nphotometry = "graze-narrow"\n'
        "setback = 0.9\ndrop = 0.2\n"
    )
    # half way to a ridge 1.8 m from the wall: half of the rise of 1.8 m
    assert scene.runs[0].height_m == pytest.approx(2.7 + 0.9 - 0.2)


# ---- standing -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "removed"),
    [
        ("[[bench]]\nat = [2, 2]\nwidth = 1\ndepth = 0.5\nheight = 0.4\n", 0.2),
        ("[[bench]]\nat = [2, 3.35]\nwidth = 1\ndepth = 0.5\nheight = 0.4\n", 0.2),
        ("[[bench]]\nat = [2, 2]\nwidth = 1\ndepth = 0.5\nheight = 0.4\nabove_floor = 1\n", 0.2),
        ("[[column]]\nat = [2, 2]\nwidth = 0.3\ndepth = 0.2\nturn = 30\n", 0.3 * 0.2 * 2.7),
        ("[[soffit]]\ndepth = 0.5\nheight = 0.3\n", 0.5 * 0.3 * 4.8),
        ("[[soffit]]\ndepth = 0.5\nheight = 0.3\nstart = 1\nend = 3\n", 0.5 * 0.3 * 2),
        ("[[fascia]]\nfrom_wall = 0.3\nheight = 0.2\nthickness = 0.02\n", 0.02 * 0.2 * 4.8),
        (
            "[[fascia]]\nfrom_wall = 0.3\nheight = 0.2\nthickness = 0.02\nprofile = 'knife'\n",
            (0.02 + 0.001) / 2 * 0.2 * 4.8,
        ),
        (
            "[[panel]]\nfrom_left = 1\nfrom_main = 1\nwidth = 2\ndepth = 1\nbelow_ceiling = 0.3\n",
            2 * 1 * 0.025,
        ),
        (
            "[[cove]]\nledge = 0.2\nlip = 0.05\nsetback = 0.3\nthickness = 0.02\n"
            "lip_thickness = 0.01\n",
            4.8 * (0.21 * 0.02 + 0.01 * 0.05),
        ),
        (  # a corner where two coves meet
            "[[cove]]\nalong = ['main', 'right']\nledge = 0.2\nlip = 0.05\nsetback = 0.3\n"
            "thickness = 0.02\nlip_thickness = 0.01\n",
            0.02 * 0.21 * (4.8 + 3.6 - 0.21) + 0.05 * 0.01 * (4.6 + 3.4 - 0.01),
        ),
        (  # three walls round the room, mitred
            "[[soffit]]\nalong = ['left', 'main', 'right']\ndepth = 0.5\nheight = 0.3\n",
            0.3 * (4.8 * 0.5 + 2 * 3.1 * 0.5),
        ),
        (  # all round
            "[[soffit]]\nalong = ['main', 'right', 'opposite', 'left']\n"
            "depth = 0.5\nheight = 0.3\n",
            0.3 * (4.8 * 3.6 - 3.8 * 2.6),
        ),
    ],
)
def test_what_stands_in_a_room_takes_its_volume_and_leaves_it_closed(built, text, removed):
    scene = built(text)
    surfaces = scene.room.surfaces
    assert any(s.blocks for s in surfaces)
    np.testing.assert_allclose(flux_through(surfaces), 0, atol=1e-9)
    assert volume(surfaces) == pytest.approx(4.8 * 3.6 * 2.7 - removed)
    for surface in surfaces:
        frame = surface.frame
        np.testing.assert_allclose(np.cross(frame.u, frame.v), frame.n, atol=1e-12)
        assert signed_area(surface.corners_uv_m) > 0
    assert len({s.name for s in surfaces}) == len(surfaces)


COVE = '[[cove]]\nledge = "200 mm"\nthickness = "20 mm"\nlip_thickness = "10 mm"\n'


def test_a_cove_has_ledge_lip_and_driver_where_they_were_stated(built):
    scene = built(
        COVE + 'setback = "300 mm"\naperture = "220 mm"\nreflectance = 0.7\n'
        'driver = { width = "40 mm", height = "30 mm", from_wall = "60 mm", reflectance = 0.1 }\n'
    )
    names = {s.name: s for s in scene.room.surfaces if s.blocks}
    ledge = corners_in_room(names["cove C1 ledge"])
    assert ledge[:, 2] == pytest.approx([2.4] * 4)
    assert (3.6 - ledge[:, 1]).max() == pytest.approx(0.2)
    assert names["cove C1 ledge"].frame.n[2] == pytest.approx(1)
    lip = corners_in_room(names["cove C1 lip edge"])
    assert lip[:, 2] == pytest.approx([2.7 - 0.22] * 4)
    driver = corners_in_room(names["cove C1 driver front"])
    assert 3.6 - driver[:, 1] == pytest.approx([0.1] * 4)
    assert names["cove C1 driver top"].reflectance_rgb[0] == 0.1
    assert names["cove C1 underside"].reflectance_rgb[0] == 0.7


def test_either_word_for_a_coves_depth_gives_the_same_cove(built):
    one = built(COVE + "lip = 0.05\nsetback = 0.3\n").room.surfaces
    other = built(COVE + "lip = 0.05\nbelow_ceiling = 0.3\n").room.surfaces
    for a, b in zip(one, other, strict=True):
        np.testing.assert_array_equal(corners_in_room(a), corners_in_room(b))
    [line] = refused(built, COVE + "lip = 0.05\n")
    assert 'state either "below_ceiling" or "setback"' in line


def test_faces_shade_what_lies_behind_them(built):
    scene = built("[[fascia]]\nfrom_wall = 0.3\nheight = 0.2\n")
    start = np.array([[2.4, 3.45, 2.65]])
    assert blocked(start, np.array([[2.4, 2.0, 2.6]]), scene.room.surfaces)[0]
    assert not blocked(start, np.array([[2.4, 3.2, 1.6]]), scene.room.surfaces)[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (COVE + "setback = 0.3\nlip = 0.3\n", '"lip" = 0.3: the lip would reach the ceiling'),
        (COVE + "setback = 0.3\naperture = 0.4\n", '"aperture" = 0.4: wider than'),
        ("[[bench]]\nat = [0.2, 2]\nwidth = 1\ndepth = 1\nheight = 1\n", 'through the "left" wall'),
        ("[[column]]\nat = [2, 3.5]\nwidth = 1\ndepth = 1\n", 'through the "main" wall'),
        ("[[column]]\nat = [2, 2]\nwidth = 1\ndepth = 1\nheight = 3\n", "goes through the ceiling"),
        ("[[fascia]]\nfrom_wall = 4\nheight = 0.2\n", 'through the "opposite" wall'),
        ("[[fascia]]\nfrom_wall = 0.3\nheight = 3\n", "reaches below the floor"),
        ("[[fascia]]\nfrom_wall = 0.3\nheight = 2.7\n", "reaches the floor and shuts in"),
        ("[[panel]]\nfrom_left = 3\nfrom_main = 1\nwidth = 2\ndepth = 1\nbelow_ceiling = 0.3\n",
         '"width" = 2: wider than the room'),
        ("[[soffit]]\nalong = ['main', 'opposite']\ndepth = 0.5\nheight = 0.3\n", "not neighbours"),
        ("[[soffit]]\ndepth = 0.5\nheight = 0.3\nreflectance = 1\n", "must be below 1"),
        ("[[mesh]]\nfile = 'gone.obj'\nat = [1, 1]\n", "no such file"),
        ("[[camera]]\nname = 'a'\neye = [9, 1, 1]\n", '"eye" = [9, 1, 1]: outside the room'),
        ("[[camera]]\nname = 'a'\neye = [1, 1, 3]\n", "above the ceiling"),
        ("[[camera]]\nname = 'a'\ndistance = 5\n", '"distance" = 5: outside the room'),
        ("[[camera]]\nname = 'a'\neye = [1, 3.6, 1]\nlook_at = [1, 0, 1]\n",
         '"eye" = [1, 3.6, 1]: in the main wall.'),
        ("[[bench]]\ntag = 'x'\nat = [1, 1]\nwidth = 1\ndepth = 1\nheight = 1\n"
         "[[camera]]\nname = 'a'\neye = [1, 1, 0.9]\n", '"eye" = [1, 1, 0.9]: inside bench x.'),
        ("[[camera]]\nname = 'front'\nlens = 1\n", '"lens" = 1: must lie between 5 and 2000'),
        ("[[eye]]\nat = [9, 1]\n", '"at" = [9, 1]: outside the room'),
        ("[[bench]]\nat = [2, 2]\nwidth = 1\ndepth = 1\nheight = 1\n" * 2, "runs into bench B1"),
        ("[[bench]]\ntag = 'x'\nat = [1, 1]\nwidth = 1\ndepth = 1\nheight = 1\n"
         "[[column]]\ntag = 'x'\nat = [3, 2]\nwidth = 0.3\ndepth = 0.3\n", 'two things are tagged'),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_in_one_line(built, text, says):
    [line] = refused(built, text)
    assert says in line, line


def test_a_mesh_stands_where_it_is_put(built, tmp_path):
    (tmp_path / "cube.obj").write_text(
        "v 0 0 0\nv 100 0 0\nv 100 100 0\nv 0 100 0\nv 50 50 80\n"
        "f 1 3 2\nf 1 4 3\nf 1 2 5\nf 2 3 5\nf 3 4 5\nf 4 1 5\n"
    )
    text = "[[mesh]]\nfile = 'cube.obj'\nunit = 'cm'\nup = '+z'\nat = [2, 1.5]\nabove_floor = 0.1\n"
    [body] = [b for b in built(text).room.bodies if b.kind == "mesh"]
    low, high = body.points_m.min(axis=0), body.points_m.max(axis=0)
    assert low == pytest.approx([1.5, 1.0, 0.1])
    assert high == pytest.approx([2.5, 2.0, 0.9])
    [line] = refused(built, text.replace("'cm'", "'m'"))
    assert "cuts through the room's walls" in line
