import io

import numpy as np
import pytest
from PIL import Image

from rakelight.picture.exposure import automatic_ev100
from rakelight.picture.false_colour import Scale, colours
from rakelight.picture.tone import WHITE, from_pixels, to_pixels
from rakelight.tell.lettering import Style, broken, broken_by, height_px, set_text
from rakelight.tell.plates.compare import Panel, compare_plate
from rakelight.tell.still import exr, false_colour_png, png


def opened(data):
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def test_a_png_gives_its_luminance_back():
    luminance = np.full((64, 96, 3), 79.5775)  # rho E / pi: 0.5, 500 lx
    ev100 = automatic_ev100([luminance[..., 0]], WHITE)
    read = from_pixels(opened(png(to_pixels(luminance, ev100))), ev100)
    blocks = read.reshape(4, 16, 6, 16).mean(axis=(1, 3))
    assert np.abs(blocks / 79.5775 - 1).max() < 0.02


def test_a_png_is_marked_as_srgb_and_carries_no_clock():
    data = png(np.zeros((4, 4, 3), np.uint8))
    chunks, place = [], 8  # ISO/IEC 15948: length, name, data, check
    while place < len(data):
        size = int.from_bytes(data[place : place + 4], "big")
        chunks.append(data[place + 4 : place + 8])
        place += size + 12
    assert b"sRGB" in chunks
    assert not {b"tIME", b"tEXt", b"iTXt", b"eXIf"} & set(chunks)


def test_false_colour_keeps_the_picture_and_adds_a_bar():
    field = np.geomspace(5, 900, 200)[None, :] * np.ones((90, 1))
    scale = Scale(10.0, 1000.0, True)
    data = false_colour_png(field, scale, ["Initial.", "No other light."], unit="fc")
    image = opened(data)
    assert (image[:90] == colours(field, scale)).all()
    assert image.shape[0] > 120
    strip = image[90:].reshape(-1, 3)
    ends = colours(np.array([[10.0, 1000.0]]), scale)[0]
    for end in ends:  # both ends of the bar are in the strip
        assert (strip == end).all(axis=1).any()
    assert data == false_colour_png(field, scale, ["Initial.", "No other light."], unit="fc")


def test_exr_keeps_every_digit_and_its_bytes(tmp_path):
    import OpenEXR

    rgb = np.random.default_rng(1).lognormal(2, 2, (20, 30, 3)).astype(np.float32)
    data = exr(rgb)
    assert data == exr(rgb)
    path = tmp_path / "a.exr"
    path.write_bytes(data)
    assert (OpenEXR.File(str(path)).channels()["RGB"].pixels == rgb).all()


def panels(count=2, columns=320):
    values = [("Average", "412 lx"), ("Installed", "5400 lm, 62 W")]
    return [
        Panel(
            np.full((180, columns, 3), 40 + 10 * k, np.uint8),
            f"Setback {k + 1}",
            "Every ledge throws a shadow and the drama sits high on the wall, where it is lit.",
            values,
        )
        for k in range(count)
    ]


def plate(which, **more):
    more = {"heading": "Two setbacks", "caption": ["EV100 8.0. Initial."], **more}
    return compare_plate(which, cautions=["Verify with a mock-up."], **more)


@pytest.mark.parametrize("count", [2, 3])
def test_a_plate_holds_its_stills_unchanged(count):
    image = opened(plate(panels(count)))
    for k in range(count):
        mine = (image == 40 + 10 * k).all(axis=2)
        rows, columns = np.nonzero(mine)
        body = mine[rows.min() : rows.min() + 180, columns.min() : columns.min() + 320]
        assert body.mean() > 0.99
    left = [np.nonzero((image == 40 + 10 * k).all(axis=2))[1].min() for k in range(count)]
    assert left == sorted(left)


def test_a_plate_is_the_same_twice_and_grows_with_its_words():
    assert plate(panels()) == plate(panels())
    longer = opened(plate(panels(), caption=["EV100 8.0. Initial."] * 6))
    assert longer.shape[0] > opened(plate(panels())).shape[0]


def test_nothing_is_set_outside_the_margins():
    image = opened(
        plate(panels(), heading="A heading that is long enough to need a second line " * 3)
    )
    edge = np.concatenate([image[:, :20].reshape(-1, 3), image[:, -20:].reshape(-1, 3)])
    assert (edge == edge[0]).all()


def test_plates_of_one_or_of_unequal_stills_are_refused():
    with pytest.raises(ValueError, match="two or more"):
        plate(panels(1))
    with pytest.raises(ValueError, match="two or more"):
        plate([*panels(1), *panels(1, columns=300)])


def test_lines_are_broken_to_the_column():
    style = Style(16)
    words = "a wall that is lit from above shows every stone " * 4
    lines = broken(words, style, 200)
    assert len(lines) > 4
    assert all(style.width_px(line) <= 200 for line in lines)
    assert " ".join(lines).split() == words.split()
    image = Image.new("RGB", (220, 400), "white")
    assert set_text(image, words, style, 10, 5, 200) == 5 + height_px(words, style, 200)
    dark = np.nonzero(np.asarray(image)[..., 0] < 128)[1]
    assert dark.min() >= 10
    assert dark.max() <= 210


def test_no_line_begins_with_a_unit():
    text = "tilt 0 deg, 76 mm off, mean 30 cd/m2 or 12 lx, in all dim 64 %."
    for widest in range(8, 40):
        lines = broken_by(text, len, widest)
        assert " ".join(lines) == text
        assert not any(line.startswith(("%", "mm", "cd", "lx", "deg")) for line in lines)
    assert broken_by("5 min in two rows", len, 6) == ["5 min", "in two", "rows"]
