"""Finishes: a map of reflectance on any surface of the room, with the mean that is stated."""

import numpy as np
import pytest
from PIL import Image

from rakelight.build.finishes import finished
from rakelight.build.room import build_room
from rakelight.errors import InputError
from rakelight.read.toml import read_scene
from rakelight.scene.quality import Quality

COARSE = Quality(mesh_step_m=0.02, plane_step_m=0.3)


@pytest.fixture
def room(tmp_path):
    def build(text):
        (tmp_path / "made.toml").write_text(text, encoding="utf-8")
        return build_room(read_scene(tmp_path / "made.toml"), COARSE)

    return build


def test_a_floor_takes_a_shipped_finish(room):
    floor = room('[surface.floor]\nfinish = "oak-boards"\n').surface("floor")
    assert floor.reflectance_map is not None
    assert floor.reflectance_map.width_m == pytest.approx(4.8)
    luminous = floor.reflectance_rgb @ [0.2126, 0.7152, 0.0722]  # Rec.709
    assert luminous == pytest.approx(0.279, abs=0.005)  # what its TOML file states
    assert floor.reflectance_rgb[0] > 1.5 * floor.reflectance_rgb[2]  # wood is warm
    assert floor.gloss == pytest.approx(0.08)


def test_a_stated_reflectance_is_the_finish_s_mean_and_a_stated_gloss_holds(room):
    text = '[surface.ceiling]\nfinish = "painted-plaster"\nreflectance = 0.6\ngloss = 0.3\n'
    ceiling = room(text).surface("ceiling")
    luminous = ceiling.reflectance_rgb @ [0.2126, 0.7152, 0.0722]
    assert luminous == pytest.approx(0.6, abs=0.003)
    assert ceiling.gloss == 0.3


def test_both_planes_of_a_pitched_ceiling_share_it(room):
    planes = room(
        '[room]\nceiling = { ridge = "4 m" }\n[surface.ceiling]\nfinish = "acoustic-felt"\n'
    ).surfaces
    mapped = [s for s in planes if s.name.startswith("ceiling")]
    assert len(mapped) == 2
    assert all(s.reflectance_map is not None for s in mapped)


def test_a_relief_covers_its_wall_s_finish_and_an_area_leaves_the_rest(room):
    finish = '[surface.main]\nfinish = "painted-plaster"\n'
    whole = room(finish + '[[relief]]\ntexture = "running-brick"\n').surface("main")
    assert whole.reflectance_rgb.mean() < 0.3
    part = room(
        '[surface.main]\nfinish = "acoustic-felt"\n[[relief]]\ntexture = "running-brick"\n'
        "area = { width = 1, height = 1 }\n"
    ).surface("main")
    encoded = part.reflectance_map.encoded
    beside = encoded[:, -encoded.shape[1] // 3 :]
    assert beside.std() > 2  # felt is mottled; an even wall would not be


def test_the_colours_of_a_relief_and_a_file_of_one_s_own_serve_too(room, tmp_path):
    wall = room('[surface.left]\nfinish = "running-brick"\n').surface("left")
    assert wall.relief is None
    assert wall.reflectance_map.width_m == pytest.approx(3.6)
    codes = np.full((10, 20, 3), 128, np.uint8)
    Image.fromarray(codes).save(tmp_path / "own.png")
    (tmp_path / "own.toml").write_text('reflectance_map = "own.png"\nwidth = "1 m"\n')
    own = room('[surface.right]\nfinish = "own.toml"\n').surface("right")
    assert own.reflectance_map.height_m == pytest.approx(0.5)  # square pixels
    assert own.reflectance_rgb == pytest.approx(0.2158605, rel=1e-6)  # IEC 61966-2-1, code 128


@pytest.mark.parametrize(
    ("finish", "says"),
    [
        ("oak-bords", 'Did you mean "oak-boards"'),
        ("nowhere.toml", "no such file"),
        ("flat.png", "reflectance_map and width"),
        ("sizeless.toml", "real size is not stated"),
    ],
)
def test_faults(room, tmp_path, finish, says):
    Image.fromarray(np.full((4, 4, 3), 90, np.uint8)).save(tmp_path / "flat.png")
    (tmp_path / "sizeless.toml").write_text('reflectance_map = "flat.png"\n')
    with pytest.raises(InputError, match=says):
        room(f'[surface.floor]\nfinish = "{finish}"\n')


def test_surfaces_without_a_finish_stay_as_they_are(tmp_path):
    (tmp_path / "made.toml").write_text('[surface.floor]\nfinish = "terrazzo"\n')
    scene_file = read_scene(tmp_path / "made.toml")
    bare = {s.name: s for s in build_room(scene_file, COARSE).surfaces}
    again, notes = finished(scene_file, bare)
    assert again["left"] is bare["left"]
    assert notes == ()
