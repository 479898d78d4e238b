"""Paintings on walls: where they hang, what they are refused for, what light they get."""

import numpy as np
import pytest
from PIL import Image

from rakelight.build.scene import build_scene
from rakelight.errors import InputError
from rakelight.light.direct import direct
from rakelight.light.prepare import prepare
from rakelight.measure.painting import painting_numbers
from rakelight.picture.draw import draw
from rakelight.picture.shade import shade
from rakelight.scene.quality import Quality
from rakelight.tell.paintings import painting_lines, painting_warnings
from rakelight.tell.shown import Units

COARSE = Quality(mesh_step_m=0.02, plane_step_m=0.05)
RUN = """
[[run]]
lights = "main"
photometry = "wash-glow"
setback = "800 mm"
drop = "60 mm"
count = 2
start = "1.2 m"
"""


def written(folder, text, name="room"):
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def picture(folder, name="two.png", mode="RGB", size=(60, 40), colour=None, **more):
    image = Image.new(mode, size, colour if colour is not None else 0)
    if mode == "RGB":  # left half white, right half a mid grey
        image.paste((255, 255, 255), (0, 0, size[0] // 2, size[1]))
        image.paste((128, 128, 128), (size[0] // 2, 0, size[0], size[1]))
    image.save(folder / name, **more)
    return name


def hung(folder, more="", image="two.png", table='width = "1.2 m"'):
    text = f'title = "T"\n[room]\nwidth = 4\n{more}\n[[painting]]\nimage = "./{image}"\n{table}\n'
    return written(folder, text)


def refused(path):
    with pytest.raises(InputError) as caught:
        build_scene(path, quality=COARSE)
    assert len(caught.value.faults) == 1
    assert "\n" not in caught.value.faults[0]
    return caught.value.faults[0]


def test_one_side_is_enough_and_the_middle_hangs_a_metre_and_a_half_up(tmp_path):
    picture(tmp_path)
    scene = build_scene(hung(tmp_path), quality=COARSE)
    canvas = scene.room.surface("painting A1")
    corners = canvas.frame.to_room(np.array([[0, 0, 0], [1.2, 0.8, 0]]))
    assert corners[0] == pytest.approx([1.4, 3.6 - 0.025, 1.1])  # (4 - 1.2) / 2, 1.5 - 0.4
    assert corners[1] == pytest.approx([2.6, 3.6 - 0.025, 1.9])
    assert canvas.blocks
    # 1 and (128/255 decoded) 0.21586, times the white's 0.8 (IEC 61966-2-1)
    assert canvas.reflectance_rgb == pytest.approx([0.8 * (1 + 0.21586) / 2] * 3, rel=1e-3)
    hole = scene.room.surface("main").holes_uv_m[0]
    assert np.ptp(hole, axis=0) == pytest.approx([1.2, 0.8])


def test_its_luminance_is_the_images_reflectance_times_the_light_there(tmp_path):
    picture(tmp_path)
    path = hung(
        tmp_path, '[other_light]\nall = "300 lx"', table='width = "1.2 m"\nwhite_reflectance = 0.6'
    )
    scene = build_scene(path, quality=COARSE)
    lit = direct(prepare(scene.room, COARSE))
    camera = next(c for c in scene.cameras if c.name == "front")
    view = draw(scene.room, camera, 2)
    seen = shade(view, scene.room, lit).luminance_cd_m2()
    for u, reflectance in ((0.3, 0.6), (0.9, 0.6 * 0.21586)):
        canvas = scene.room.surface("painting A1")
        x, y = camera.pixels(canvas.frame.to_room(np.array([u, 0.4, 0.0])))
        assert seen[int(y), int(x)] == pytest.approx(reflectance * 300 / np.pi, rel=2e-3)


def test_a_mural_follows_the_wall_and_leaves_the_rest_of_it_as_it_was(tmp_path):
    picture(tmp_path)
    table = 'kind = "mural"\nwidth = "1.2 m"\nfrom_left = "1 m"\nfrom_foot = "0.5 m"'
    relief = '[[relief]]\ntexture = "trowelled-plaster"\n'
    scene = build_scene(hung(tmp_path, relief, table=table), quality=COARSE)
    bare = build_scene(
        written(tmp_path, f'title = "B"\n[room]\nwidth = 4\n{relief}', "bare"), quality=COARSE
    )
    wall, plain = scene.room.surface("main"), bare.room.surface("main")
    assert not [s for s in scene.room.surfaces if s.name.startswith("painting")]
    np.testing.assert_array_equal(wall.relief.heights_m, plain.relief.heights_m)
    painted = wall.reflectance_map
    code = painted.encoded / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    linear *= painted.scale
    per_m = linear.shape[1] / painted.width_m

    def at(u, v):
        return linear[int(v * per_m), int(u * per_m)]

    assert at(1.2, 0.9) == pytest.approx([0.8] * 3, abs=0.01)
    assert at(2.0, 0.9) == pytest.approx([0.8 * 0.21586] * 3, abs=0.01)
    away = linear[int(1.5 * per_m) :].mean(axis=(0, 1))
    assert away == pytest.approx(plain.reflectance_rgb, rel=0.03)


def test_a_frame_stands_round_the_picture_and_shades_its_upper_edge(tmp_path):
    picture(tmp_path)
    frame = 'width = "1.2 m"\nframe = { width = "50 mm", proud = "30 mm" }'
    scene = build_scene(hung(tmp_path, RUN, table=frame), quality=COARSE)
    names = [s.name for s in scene.room.surfaces if s.name.startswith("painting A1 bar")]
    assert len(names) == 4
    hole = scene.room.surface("main").holes_uv_m[0]
    assert np.ptp(hole, axis=0) == pytest.approx([1.3, 0.9])
    lit = direct(prepare(scene.room, COARSE))
    canvas = lit.runs_lx("painting A1")
    free = direct(prepare(build_scene(hung(tmp_path, RUN), quality=COARSE).room, COARSE))
    open_canvas = free.runs_lx("painting A1")
    middle = canvas.shape[1] // 2
    # the run is 1.64 m up over the head and 0.775 m out: 30 mm proud shade 30 x 0.75 / 0.745 mm
    assert canvas[-1, middle] < 0.05 * open_canvas[-1, middle]
    assert canvas[canvas.shape[0] // 2, middle] == pytest.approx(
        open_canvas[canvas.shape[0] // 2, middle], rel=0.02
    )
    below = lit.runs_lx("main")[:, lit.runs_lx("main").shape[1] // 2]
    v = scene.room.surface("main").grid.v_m()
    # the whole board's shadow lies on the wall under it
    assert below[np.searchsorted(v, 1.05 - 0.02)] < 0.2 * below[np.searchsorted(v, 0.6)]


def test_average_and_greatest_are_those_of_the_wall_there_and_warn_above_200_lx(tmp_path):
    picture(tmp_path)
    path = hung(tmp_path, RUN + '[other_light]\nall = "20 lx"')
    units = Units("m", "lx")
    for dim, warned in (("0.05", False), ("1.0", True)):
        scene = build_scene(path, [f"run.1.dim={dim}"], quality=COARSE)
        lit = direct(prepare(scene.room, COARSE))
        numbers = painting_numbers(scene.paintings, scene.room, lit)
        found = {n.key: n.value for n in numbers}
        canvas = lit.total_lx("painting A1")
        assert found["painting A1.average_lx"] == pytest.approx(canvas.mean(), rel=0.03)
        assert found["painting A1.max_lx"] == pytest.approx(canvas.max(), rel=0.02)
        assert found["painting A1.min_lx"] >= 20
        caveats = painting_warnings(scene.paintings, numbers, units)
        assert bool(caveats) == warned == (found["painting A1.max_lx"] > 200)
        (line,) = painting_lines(scene.paintings, numbers, units)
        assert line.startswith("Painting A1 on main: average ")
        if warned:
            assert "200 lx" in caveats[0].says


def test_images_that_cannot_be_used_are_refused_in_one_line(tmp_path):
    (tmp_path / "empty.png").write_bytes(b"")
    assert "empty.png: no photograph that can be read" in refused(hung(tmp_path, image="empty.png"))
    (tmp_path / "note.png").write_text("not an image")
    assert "note.png: no photograph" in refused(hung(tmp_path, image="note.png"))
    picture(tmp_path, "ink.jpg", "CMYK")
    assert "CMYK without a colour profile" in refused(hung(tmp_path, image="ink.jpg"))
    Image.fromarray(np.full((8, 8), 900, np.uint16)).save(tmp_path / "deep.png")
    assert "more than 8 bits and no colour profile" in refused(hung(tmp_path, image="deep.png"))
    assert "no such file" in refused(hung(tmp_path, image="nowhere.png"))
    path = written(tmp_path, 'title="T"\n[[painting]]\nimage = "low-tied"\nwidth = 1\n')
    assert 'Did you mean "low-tide"?' in refused(path)


def test_paintings_that_do_not_fit_are_refused_in_one_line(tmp_path):
    picture(tmp_path)
    assert "larger than the" in refused(hung(tmp_path, table="width = 5"))
    says = refused(hung(tmp_path, table='width = "1 m"\nfrom_foot = "2.5 m"'))
    assert "from_foot" in says
    assert "2.70 m high" in says or "2700 mm high" in says
    door = '[[opening]]\nkind = "door"\nfrom_left = 1.5\nwidth = 0.9\nheight = 2\n'
    assert "hangs over door O1" in refused(hung(tmp_path, door))
    says = refused(hung(tmp_path, table="width = 0"))
    assert "must be above 0" in says
    assert "width" in refused(hung(tmp_path, table=""))
    two = 'width = "1.2 m"\n[[painting]]\nimage = "./two.png"\nwidth = 1'
    assert "overlaps painting A1" in refused(hung(tmp_path, table=two))
    says = refused(hung(tmp_path, table='kind = "mural"\nwidth = 1\ndepth = 0.1'))
    assert '"mural" has no' in says
