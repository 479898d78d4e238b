"""Cameras of a scene: usual ones, named ones adjusted, and one placed by hand."""

import numpy as np
import pytest

from rakelight.build.scene import build_scene
from rakelight.errors import InputError
from rakelight.scene.quality import Quality

COARSE = Quality(mesh_step_m=0.1, plane_step_m=1.0)
RUN = '[[run]]\nphotometry = "wash-flat"\nsetback = "30 in"\n'


@pytest.fixture
def cameras(tmp_path):
    def _cameras(text, *overrides):
        path = tmp_path / "hall.toml"
        path.write_text(RUN + text)
        return {c.name: c for c in build_scene(path, overrides, quality=COARSE).cameras}

    return _cameras


def test_front_and_seat_unless_stated_and_along_where_there_are_gaps(cameras):
    assert list(cameras("")) == ["front", "seat"]
    assert list(cameras("", "run.1.gap=75 mm")) == ["front", "seat", "along"]
    assert list(cameras('[[camera]]\nname = "seat"\n')) == ["seat"]


def test_sizes_come_from_the_picture_or_the_camera(cameras):
    found = cameras(
        '[picture]\nwidth = 800\nheight = 600\n[[camera]]\nname = "front"\n'
        '[[camera]]\nname = "seat"\nwidth = 320\nheight = 200\n'
    )
    assert (found["front"].width_px, found["front"].height_px) == (800, 600)
    assert (found["seat"].width_px, found["seat"].height_px) == (320, 200)


def test_an_eye_by_height_distance_and_place_looks_at_the_lit_wall(cameras):
    camera = cameras(
        '[[camera]]\nname = "bench"\neye_height = 1.2\ndistance = 3\nfrom_left = 1\nlens = 30\n'
    )["bench"]
    np.testing.assert_allclose(camera.eye_m, [1, 0.6, 1.2])
    assert camera.lens_mm == 30
    # level, so uprights stay upright; the wall's middle is in the picture's middle
    assert camera.forward[2] == pytest.approx(0)
    middle = camera.pixels(np.array([2.4, 3.6, 1.35]))
    np.testing.assert_allclose(middle, [960, 540], atol=1e-6)


def test_an_eye_in_feet_is_where_it_was_stated(cameras):
    camera = cameras(
        '[units]\nlength = "ft"\n[room]\nwidth = 16\ndepth = 12\nheight = 9\n'
        '[[camera]]\nname = "own"\neye = [8, 1, 5]\nlook_at = [8, 12, 5]\nshift = 2\n'
    )["own"]
    np.testing.assert_allclose(camera.eye_m, np.array([8, 1, 5]) * 0.3048)
    np.testing.assert_allclose(camera.forward, [0, 1, 0], atol=1e-12)
    assert camera.shift_mm == 2


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('name = "own"', "has no place"),
        ('name = "own"\neye = [1, 1, 1]\nlook_at = [1, 1, 1]', "same point"),
        ('name = "front"\nlook_at = [1, 1, 1]', '"look_at" but no place'),
        ('name = "a"\neye = [1, 1, 1]\ndistance = 2', "State one way"),
    ],
)
def test_a_camera_without_a_place_is_refused(cameras, text, says):
    with pytest.raises(InputError, match=says):
        cameras(f"[[camera]]\n{text}\n")
