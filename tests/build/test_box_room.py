"""The box room: frames, sizes, finishes, other light, and the step's limits."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rakelight.build.room import box_frames, build_room
from rakelight.build.wall import mean_reflectance
from rakelight.errors import InputError
from rakelight.read.relief import read_texture
from rakelight.read.toml import read_scene
from rakelight.scene.quality import Quality
from rakelight.scene.relief import ReflectanceMap
from rakelight.scene.tables import RoomTable

COARSE = Quality(mesh_step_m=0.05, plane_step_m=0.5)
sizes = st.floats(0.5, 50)


@pytest.fixture
def scene(tmp_path):
    def _scene(text, *overrides):
        path = tmp_path / "hall.toml"
        path.write_text(text)
        return read_scene(path, overrides)

    return _scene


@given(w=sizes, d=sizes, h=sizes)
def test_every_frame_is_right_handed_and_looks_inward(w, d, h):
    room = RoomTable(width=w, depth=d, height=h)
    middle = np.array([w, d, h]) / 2
    for frame, width, height in box_frames(room).values():
        np.testing.assert_allclose(np.cross(frame.u, frame.v), frame.n, atol=1e-12)
        # the middle of the room is in front of the middle of the surface, square-on
        u, v, n = frame.from_room(middle)
        assert (u, v) == pytest.approx((width / 2, height / 2))
        assert n > 0


def test_the_walls_stand_where_the_plan_says():
    frames = box_frames(RoomTable(width=4.8, depth=3.6, height=2.7))
    corners = {
        "main": ([0, 3.6, 0], [4.8, 3.6, 2.7]),
        "opposite": ([4.8, 0, 0], [0, 0, 2.7]),
        "left": ([0, 0, 0], [0, 3.6, 2.7]),
        "right": ([4.8, 3.6, 0], [4.8, 0, 2.7]),
        "floor": ([0, 0, 0], [4.8, 3.6, 0]),
        "ceiling": ([0, 3.6, 2.7], [4.8, 0, 2.7]),
    }
    for name, (lower_left, upper_right) in corners.items():
        frame, width, height = frames[name]
        np.testing.assert_allclose(frame.to_room(np.zeros(3)), lower_left, atol=1e-12)
        np.testing.assert_allclose(
            frame.to_room(np.array([width, height, 0])), upper_right, atol=1e-12
        )


@pytest.mark.parametrize("wall", ["main", "opposite", "left", "right"])
def test_a_walls_u_runs_to_the_right_for_someone_facing_it(wall):
    frame, _, _ = box_frames(RoomTable())[wall]
    facing, up = -frame.n, np.array([0, 0, 1])
    np.testing.assert_allclose(np.cross(facing, up), frame.u, atol=1e-12)


def test_surfaces_of_the_box_close_it(scene):
    room = build_room(scene(""), COARSE)
    area = sum(s.grid.width_m * s.grid.height_m for s in room.surfaces)
    assert area == pytest.approx(2 * (12.96 + 9.72 + 17.28))
    # the normals of a closed box, weighted by area, cancel
    total = sum(s.grid.width_m * s.grid.height_m * s.frame.n for s in room.surfaces)
    np.testing.assert_allclose(total, 0, atol=1e-12)


def test_usual_finishes_and_stated_ones(scene):
    room = build_room(scene("[surface.left]\nreflectance = [0.1, 0.2, 0.3]\n"), COARSE)
    assert room.surface("left").reflectance_rgb.tolist() == [0.1, 0.2, 0.3]
    assert room.surface("main").reflectance_rgb.tolist() == [0.5] * 3
    assert room.surface("floor").reflectance_rgb.tolist() == [0.2] * 3
    assert room.surface("ceiling").reflectance_rgb.tolist() == [0.8] * 3


def test_other_light_is_off_unless_stated_and_the_nearest_statement_counts(scene):
    assert {s.other_light_lx for s in build_room(scene(""), COARSE).surfaces} == {0.0}
    room = build_room(
        scene("[other_light]\nall = 8\nfloor = 20\nleft = 3\n[surface.left]\nother_light = 15\n"),
        COARSE,
    )
    lx = {s.name: s.other_light_lx for s in room.surfaces}
    assert lx == {"main": 8, "opposite": 8, "left": 15, "right": 8, "floor": 20, "ceiling": 8}


def test_a_shipped_relief_lies_on_its_wall_with_its_own_reflectance(scene):
    room = build_room(scene('[[relief]]\non = "left"\ntexture = "split-ledgestone"\n'), COARSE)
    left = room.surface("left")
    assert left.relief is not None
    assert left.grid is left.relief.grid
    assert (left.grid.width_m, left.grid.height_m) == (3.6, 2.7)
    assert 0.01 < left.relief.highest_m < 0.044
    assert left.relief.backing_m <= left.relief.lowest_m + 1e-6
    # luminance-weighted mean as the texture's own file states it
    stated = read_texture("split-ledgestone").reflectance
    assert left.reflectance_rgb @ [0.2126, 0.7152, 0.0722] == pytest.approx(stated, abs=0.002)
    assert room.surface("main").relief is None


@pytest.mark.parametrize("where", ["[[relief]]\ntexture = 'split-ledgestone'\nreflectance = 0.4",
                                   "[surface.main]\nreflectance = 0.4\n[[relief]]\n"
                                   "texture = 'split-ledgestone'"])  # fmt: skip
def test_a_stated_reflectance_scales_the_reliefs(scene, where):
    main = build_room(scene(where), COARSE).surface("main")
    assert main.reflectance_rgb @ [0.2126, 0.7152, 0.0722] == pytest.approx(0.4, abs=0.003)


def test_the_mean_of_a_map_is_taken_in_linear_light():
    # IEC 61966-2-1: code 255 is 1, code 0 is 0, half of each has the mean 0.5, not code 128
    encoded = np.zeros((2, 2, 3), np.uint8)
    encoded[0] = 255
    rgb = mean_reflectance(ReflectanceMap(encoded, 0.8, 1.0, 1.0))
    np.testing.assert_allclose(rgb, 0.4)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[relief]]\ntexture = 'split-ledgestne'", "split-ledgestone"),
        ("[[relief]]\ntexture = 'stones/own.png'",
         'hall.toml: [[relief]] 1, "texture" = "stones/own.png": no such file.'),
        ("[quality]\nplane_step = '0.1 mm'",
         'hall.toml: [quality], "plane_step" = "0.1 mm": makes'),
        ("[quality]\nmesh_step = '0.01 mm'\n[[relief]]\ntexture = 'split-ledgestone'",
         "use 0.001 m or more"),
        ("[room]\nwidth = '100 m'\ndepth = '3 m'\nheight = '0.4 m'\n[quality]\n"
         "mesh_step = '1.5 mm'\n[[relief]]\ntexture = 'split-ledgestone'",
         '"mesh_step" = "1.5 mm": makes more than 65,000 rows and columns; use 0.002 m or more'),
        ("[[relief]]\ntexture = 'split-ledgestone'\nrepeat = 'stretch'\noffset = [1, 1]",
         '"offset" = [1, 1]: a stretched texture fills the wall'),
    ],
)  # fmt: skip
def test_a_room_that_cannot_be_built_is_refused(scene, text, says):
    from rakelight.build.scene import quality_of

    scene_file = scene(text)
    with pytest.raises(InputError) as caught:
        build_room(scene_file, quality_of(scene_file.tables))
    assert len(caught.value.faults) == 1
    assert says in caught.value.faults[0]
