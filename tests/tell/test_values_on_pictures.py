"""Values on pictures: where they are, readable on any stone; and what an EXR says of itself."""

import io

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from rakelight.cli import main
from rakelight.picture.draw import draw
from rakelight.tell.still import exr
from rakelight.tell.values import NUMBER, PLATE, Station, placed, values_png
from reference.picture_rooms import box, facing_main


def view_of_a_wall():
    return draw(box(), facing_main(width_px=640, height_px=360), 2)


def ratio(one, other):
    """Contrast of two sRGB colours (WCAG 2.1, relative luminance as there defined)."""

    def luminance(colour):
        c = np.asarray(colour, float) / 255
        linear = np.where(c <= 0.03928, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_a_number_stands_at_its_place_in_the_readers_unit():
    view = view_of_a_wall()
    at = (1.2, 3.6, 1.5)
    (lx,) = placed(view, [Station("main", at, 215.3)], "lx")
    (fc,) = placed(view, [Station("main", at, 215.3)], "fc")
    assert (lx.text, fc.text) == ("215", "20")  # 215.3 / 10.76391
    assert lx.dot_px == pytest.approx(facing_main(width_px=640, height_px=360).pixels(np.array(at)))
    left, top, right, bottom = lx.plate_px
    assert left - lx.dot_px[0] < 12
    assert top < lx.dot_px[1] < bottom
    assert right < 640


def test_hidden_stations_and_those_out_of_sight_are_left_out():
    view = view_of_a_wall()
    stations = [
        Station("main", (1.2, 3.6, 1.5), 10.0),
        Station("opposite", (1.2, 0.0, 1.5), 10.0),  # behind the eye
        Station("floor", (1.2, 3.6, 1.5), 10.0),  # the wall is seen there
    ]
    assert [one.station.surface for one in placed(view, stations, "lx")] == ["main"]


def test_no_number_lies_on_another_or_on_a_dot():
    view = view_of_a_wall()
    u, v = np.meshgrid(np.linspace(0.2, 4.6, 24), np.linspace(0.2, 2.5, 14))
    stations = [
        Station("main", (x, 3.6, z), 1000 * z) for x, z in zip(u.ravel(), v.ravel(), strict=True)
    ]
    written = placed(view, stations, "lx")
    assert 20 < len(written) <= len(stations)
    for i, one in enumerate(written):
        a = one.plate_px
        for other in written[:i]:
            b = other.plate_px
            assert not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3])
        for other in written:
            x, y = other.dot_px
            assert not (a[0] <= x < a[2] and a[1] <= y < a[3])


@pytest.mark.parametrize("stone", [0, 70, 255])
def test_numbers_read_on_dark_and_on_bright_stone(stone):
    view = view_of_a_wall()
    written = placed(view, [Station("main", (1.2, 3.6, 1.5), 215.0)], "lx")
    codes = np.full((360, 640, 3), stone, np.uint8)
    data = values_png(codes, written, "Illuminance in lx.")
    image = np.asarray(Image.open(io.BytesIO(data)))
    left, top, right, bottom = written[0].plate_px
    plate = image[top + 2 : bottom - 2, left + 2 : right - 2]
    brightness = plate.astype(int).sum(axis=2)
    paper = plate.reshape(-1, 3)[brightness.argmax()]
    ground = np.median(plate.reshape(-1, 3), axis=0)
    assert ratio(paper, ground) > 4.5  # WCAG 2.1 AA, 1.4.3
    assert ratio(NUMBER, PLATE) > 4.5
    untouched = image[:300, :200]
    assert (untouched == stone).all()


SCENE = """
title = "Two walls"
[quality]
plane_step = "100 mm"
[picture]
width = 320
height = 180
[[run]]
lights = "main"
photometry = "wash-glow"
setback = "800 mm"
drop = "60 mm"
[[camera]]
name = "front"
"""


def run(folder, *more):
    path = folder / "two.toml"
    path.write_text(SCENE, encoding="utf-8")
    return CliRunner().invoke(main, ["still", str(path), "--out", str(folder / "out"), *more])


def test_the_command_writes_values_in_the_size_asked_for(tmp_path):
    done = run(tmp_path, "--value-at", "2.4,1.5", "--values", "--size", "480x270", "--exr")
    assert done.exit_code == 0, done.output
    image = Image.open(tmp_path / "out" / "two.front.values.png")
    assert image.width == 480
    assert image.height > 270
    assert Image.open(tmp_path / "out" / "two.front.png").size == (480, 270)
    again = run(tmp_path, "--value-at", "2.4,1.5", "--values", "--size", "480x270", "--exr")
    assert again.exit_code == 0
    assert Image.open(tmp_path / "out" / "two.front.values.png").tobytes() == image.tobytes()


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--value-at", "2.4", "two lengths"),
        ("--value-at", "9 m,1 m", "not on main of two, which is 4.80 m wide"),
        ("--value-at", "a,b", "FROM_LEFT,FROM_FOOT"),
        ("--size", "4k", "3840x2160"),
        ("--size", "1x1", "between 16 and 20000"),
    ],
)
def test_bad_places_and_sizes_are_one_line(tmp_path, option, value, says):
    done = run(tmp_path, option, value)
    assert done.exit_code == 2
    line = done.output.strip().splitlines()[-1]
    assert says in line


def test_an_exr_says_what_it_is(tmp_path):
    import OpenEXR

    assert run(tmp_path, "--exr").exit_code == 0
    path = tmp_path / "out" / "two.front.exr"
    header = OpenEXR.File(str(path)).header()
    assert header["scene"] == "two"
    assert header["title"] == "Two walls"
    assert header["camera"] == "front"
    assert header["units"] == "cd/m2"
    assert header["state"] == "initial"
    assert header["bouncedLight"] == "not included"
    assert header["whiteLuminance"] == 1.0
    assert header["chromaticities"] == pytest.approx(
        (0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0.3127, 0.3290)  # ITU-R BT.709
    )
    assert np.isfinite(header["ev100"])
    assert header["whitePoint"].startswith("auto")
    assert 0.3 < header["whitePointX"] < 0.5
    first = path.read_bytes()
    assert run(tmp_path, "--exr").exit_code == 0
    assert path.read_bytes() == first


def test_an_exrs_values_are_the_luminances(tmp_path):
    import OpenEXR

    rgb = np.random.default_rng(1).uniform(0, 5000, (9, 16, 3)).astype(np.float32)
    path = tmp_path / "a.exr"
    path.write_bytes(exr(rgb, {"scene": "a"}))
    back = OpenEXR.File(str(path))
    assert np.array_equal(back.channels()["RGB"].pixels, rgb)
