import numpy as np
import pytest

from rakelight.build.cameras import along_camera, free_camera, front_camera, seat_camera
from rakelight.picture.draw import draw
from rakelight.scene.surfaces import Room
from reference.picture_rooms import UP, box, plane


def spots(camera, surface):
    corners = np.column_stack([surface.corners_uv_m, np.zeros(len(surface.corners_uv_m))])
    return camera.pixels(surface.frame.to_room(corners)) / [camera.width_px, camera.height_px]


def room_of(width_m, depth_m, height_m):
    x, y, z = width_m, depth_m, height_m
    return Room(
        (
            plane("main", (0, y, 0), (1, 0, 0), (0, 0, 1), x, z),
            plane("opposite", (x, 0, 0), (-1, 0, 0), (0, 0, 1), x, z),
            plane("left", (0, 0, 0), (0, 1, 0), (0, 0, 1), y, z),
            plane("right", (x, y, 0), (0, -1, 0), (0, 0, 1), y, z),
            plane("floor", (0, 0, 0), (1, 0, 0), (0, 1, 0), x, y),
            plane("ceiling", (0, y, z), (1, 0, 0), (0, -1, 0), x, y),
        ),
        (),
    )


ROOMS = [(4.8, 3.6, 2.7), (12.0, 6.0, 4.0), (2.4, 8.0, 3.0), (30.0, 5.0, 6.0)]
WALLS = ["main", "left", "right", "opposite"]


@pytest.mark.parametrize("size", ROOMS)
@pytest.mark.parametrize("wall", WALLS)
@pytest.mark.parametrize("pixels", [(1920, 1080), (1080, 1350)])
def test_front_is_square_on_and_shows_what_the_wall_meets(size, wall, pixels):
    room = room_of(*size)
    surface = room.surface(wall)
    camera = front_camera(surface, room, *pixels)
    found = spots(camera, surface)
    assert camera.forward == pytest.approx(-surface.frame.n)
    margins = [found[:, 0].min(), 1 - found[:, 0].max(), found[:, 1].min(), 1 - found[:, 1].max()]
    assert min(margins) == pytest.approx(0.04, abs=1e-6)
    assert margins[0] == pytest.approx(margins[1])
    names = draw(room, camera_small(camera), 1)
    seen = {names.names[i] for i in np.unique(names.ids) if i >= 0}
    assert {wall, "floor", "ceiling"} <= seen


def camera_small(camera):
    return type(camera)(
        camera.name, camera.eye_m, camera.forward, camera.up, camera.lens_mm, camera.shift_mm,
        camera.width_px // 8, camera.height_px // 8,
    )  # fmt: skip


@pytest.mark.parametrize("size", ROOMS)
@pytest.mark.parametrize("wall", WALLS)
def test_seat_holds_the_whole_wall_upright_from_eye_height(size, wall):
    room = room_of(*size)
    surface = room.surface(wall)
    camera = seat_camera(surface, room, 1920, 1080)
    found = spots(camera, surface)
    assert found.min() > 0.02
    assert found.max() < 0.98
    assert camera.eye_m[2] == pytest.approx(1.6)
    assert camera.up == pytest.approx(UP)
    assert 20 <= camera.lens_mm <= 28
    view = draw(room, camera_small(camera), 1)
    seen = {view.names[i] for i in np.unique(view.ids) if i >= 0}
    assert {wall, "floor", "ceiling"} <= seen
    # three quarters: the far end is smaller than the near one
    y = found[:, 1]
    assert y[0] - y[3] > 1.02 * (y[1] - y[2])


def test_seat_and_along_look_at_a_ceiling_from_below():
    room = box()
    ceiling = room.surface("ceiling")
    for camera in (seat_camera(ceiling, room, 1600, 900), along_camera(ceiling, room, 1600, 900)):
        view = draw(room, camera_small(camera), 1)
        share = np.mean(view.ids == view.names.index("ceiling"))
        assert share > 0.25
        assert camera.eye_m[2] == pytest.approx(1.6)


@pytest.mark.parametrize("wall", WALLS)
def test_along_rakes_down_the_wall(wall):
    room = box()
    surface = room.surface(wall)
    camera = along_camera(surface, room, 1920, 1080)
    assert camera.forward @ surface.frame.u > 0.9
    view = draw(room, camera_small(camera), 1)
    assert np.mean(view.ids == view.names.index(wall)) > 0.25


def test_free_keeps_level_and_brings_the_point_to_the_middle():
    eye, at = np.array([1.0, 0.5, 1.6]), np.array([3.0, 3.6, 2.2])
    camera = free_camera(eye, at, 1600, 900, lens_mm=28.0)
    assert camera.pixels(at) == pytest.approx([800, 450])
    assert camera.up == pytest.approx(UP)
    assert camera.shift_mm > 0


def test_free_tilts_when_told_a_shift_or_when_no_shift_would_do():
    eye = np.array([1.0, 0.5, 0.3])
    at = np.array([1.0, 1.0, 2.7])
    steep = free_camera(eye, at, 1600, 900)
    assert steep.pixels(at) == pytest.approx([800, 450])
    assert steep.forward[2] > 0.9
    told = free_camera(eye, np.array([1.0, 3.6, 0.6]), 1600, 900, shift_mm=1.0)
    assert told.forward[2] > 0
    assert told.shift_mm == 1.0
    up = free_camera(eye, eye + np.array([0, 0, 2.0]), 1600, 900)
    assert up.forward == pytest.approx([0, 0, 1])
    assert up.up == pytest.approx([0, 1, 0])


def test_free_refuses_a_camera_without_direction_or_lens():
    with pytest.raises(ValueError, match="same point"):
        free_camera(np.ones(3), np.ones(3), 16, 9)
    with pytest.raises(ValueError, match="lens"):
        free_camera(np.zeros(3), np.ones(3), 16, 9, lens_mm=0.0)
