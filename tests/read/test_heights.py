"""Height images: every format gives its numbers back, every bad file one line."""

import struct
import zlib

import numpy as np
import pytest
import tifffile
from PIL import Image

from rakelight.errors import InputError
from rakelight.read.heights import read_heights


@pytest.fixture
def greys():
    return np.random.default_rng(1).integers(0, 65536, (7, 11), dtype=np.uint16)


@pytest.fixture
def metres():
    return np.random.default_rng(2).normal(0, 0.01, (7, 11)).astype(np.float32)


def fault(path):
    with pytest.raises(InputError) as caught:
        read_heights(path)
    assert len(caught.value.faults) == 1
    line = caught.value.faults[0]
    assert line.startswith(str(path))
    assert "\n" not in line
    return line


@pytest.mark.parametrize("name", ["h.png", "h.tif", "h.tiff"])
def test_sixteen_bits_come_back_exactly(tmp_path, greys, name):
    path = tmp_path / name
    if name.endswith("png"):
        Image.fromarray(greys).save(path)
    else:
        tifffile.imwrite(path, greys)
    image = read_heights(path)
    assert image.values.dtype == np.float32
    np.testing.assert_array_equal(np.rint(image.values.astype(float) * 65535), greys)
    assert (image.in_metres, image.levels, image.notes) == (False, 65536, ())


def test_all_65536_levels_stay_apart(tmp_path):
    levels = np.arange(65536, dtype=np.uint16).reshape(256, 256)
    Image.fromarray(levels).save(tmp_path / "all.png")
    values = read_heights(tmp_path / "all.png").values.ravel()
    assert (np.diff(values) > 0).all()
    assert (values[0], values[-1]) == (0, 1)


@pytest.mark.parametrize("name", ["h.png", "h.tif"])
def test_eight_bits_say_that_they_are_coarse(tmp_path, name):
    grey = np.arange(12, dtype=np.uint8).reshape(3, 4) * 20
    Image.fromarray(grey).save(tmp_path / name)
    image = read_heights(tmp_path / name)
    np.testing.assert_allclose(image.values, grey / 255, rtol=1e-6)
    assert image.levels == 256
    assert "16-bit" in image.notes[0]


@pytest.mark.parametrize("name", ["m.tif", "m.npy", "m.exr"])
def test_floats_are_metres_and_come_back_exactly(tmp_path, metres, name):
    path = tmp_path / name
    if name.endswith("tif"):
        tifffile.imwrite(path, metres)
    elif name.endswith("npy"):
        np.save(path, metres)
    else:
        write_exr(path, {"Y": metres})
    image = read_heights(path)
    assert image.in_metres
    np.testing.assert_array_equal(image.values, metres)


def write_exr(path, channels):
    import OpenEXR

    header = {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
    with OpenEXR.File(header, channels) as file:
        file.write(str(path))


def test_an_exr_with_unknown_channels_is_refused(tmp_path, metres):
    write_exr(tmp_path / "m.exr", {"front": metres, "side": metres})
    assert "front, side" in fault(tmp_path / "m.exr")


def test_a_grey_exr_in_three_channels_is_read_without_a_note(tmp_path, metres):
    write_exr(tmp_path / "m.exr", {"RGB": np.repeat(metres[..., None], 3, axis=2)})
    image = read_heights(tmp_path / "m.exr")
    np.testing.assert_array_equal(image.values, metres)
    assert image.notes == ()


def test_colour_becomes_luminance_with_a_note(tmp_path):
    rgb = np.zeros((2, 3, 3), dtype=np.uint8)
    rgb[0, 0] = (255, 0, 0)
    rgb[0, 1] = (0, 255, 0)
    rgb[0, 2] = (255, 255, 255)
    Image.fromarray(rgb).save(tmp_path / "c.png")
    image = read_heights(tmp_path / "c.png")
    # Rec.709 weights
    np.testing.assert_allclose(image.values[0], [0.2126, 0.7152, 1.0], atol=1e-4)
    assert any("luminance" in note for note in image.notes)


def test_sixteen_bit_colour_is_refused_rather_than_cut_to_eight(tmp_path):
    # the PNG specification, third edition: IHDR of 4 x 3 pixels, 16 bits, colour type 2
    rows = b"".join(b"\x00" + bytes(4 * 6) for _ in range(3))
    header = struct.pack(">IIBBBBB", 4, 3, 16, 2, 0, 0, 0)
    content = b"\x89PNG\r\n\x1a\n"
    for kind, data in ((b"IHDR", header), (b"IDAT", zlib.compress(rows)), (b"IEND", b"")):
        content += struct.pack(">I", len(data)) + kind + data
        content += struct.pack(">I", zlib.crc32(kind + data))
    (tmp_path / "deep.png").write_bytes(content)
    assert "16-bit grey" in fault(tmp_path / "deep.png")


@pytest.mark.parametrize("name", ["f.png", "f.tif", "f.npy", "f.exr"])
def test_damaged_files_are_one_line_or_heights_never_a_crash(tmp_path, greys, metres, name):
    path = tmp_path / name
    if name.endswith("png"):
        Image.fromarray(greys).save(path)
    elif name.endswith("tif"):
        tifffile.imwrite(path, greys)
    elif name.endswith("npy"):
        np.save(path, metres)
    else:
        write_exr(path, {"Y": metres})
    whole = path.read_bytes()
    random = np.random.default_rng(5)
    said = []
    for _ in range(60):
        damaged = bytearray(whole)
        for _ in range(int(random.integers(1, 6))):
            damaged[int(random.integers(len(damaged)))] = int(random.integers(256))
        path.write_bytes(damaged[: int(random.integers(len(damaged) // 2, len(damaged) + 1))])
        try:
            assert np.isfinite(read_heights(path).values).all()
        except InputError as error:
            said.append(error)
    assert {len(error.faults) for error in said} == {1}
    assert not any("\n" in str(error) for error in said)


def test_alpha_is_dropped_with_a_note(tmp_path):
    grey = np.full((3, 3), 100, dtype=np.uint8)
    rgba = np.dstack([grey, grey, grey, np.full_like(grey, 7)])
    Image.fromarray(rgba).save(tmp_path / "a.png")
    image = read_heights(tmp_path / "a.png")
    np.testing.assert_allclose(image.values, 100 / 255, rtol=1e-6)
    assert any("alpha" in note for note in image.notes)


def test_a_normal_map_is_refused(tmp_path):
    normals = np.full((8, 8, 3), (128, 127, 250), dtype=np.uint8)
    normals[2:5, 3] = (140, 120, 240)
    Image.fromarray(normals).save(tmp_path / "n.png")
    assert "normal map" in fault(tmp_path / "n.png")


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_holes_in_floats_are_refused(tmp_path, metres, bad):
    metres[2, 3] = bad
    np.save(tmp_path / "m.npy", metres)
    assert "NaN" in fault(tmp_path / "m.npy")


@pytest.mark.parametrize("name", ["x.png", "x.tif", "x.exr", "x.npy"])
@pytest.mark.parametrize(
    ("content", "says"), [(b"", "empty"), (b"not an image at all, sorry", "broken")]
)
def test_empty_and_broken_files(tmp_path, name, content, says):
    path = tmp_path / name
    path.write_bytes(content)
    assert says in fault(path)


def test_a_png_cut_short_is_broken(tmp_path, greys):
    Image.fromarray(greys).save(tmp_path / "whole.png")
    whole = (tmp_path / "whole.png").read_bytes()
    (tmp_path / "cut.png").write_bytes(whole[: len(whole) // 2])
    assert "broken" in fault(tmp_path / "cut.png")


def test_pickles_are_not_opened(tmp_path):
    np.save(tmp_path / "p.npy", np.array([{"a": 1}], dtype=object), allow_pickle=True)
    assert "broken" in fault(tmp_path / "p.npy")


def test_missing_files_other_endings_and_odd_shapes(tmp_path):
    assert "No such file" in fault(tmp_path / "gone.png")
    (tmp_path / "photo.gif").write_bytes(b"GIF89a")
    assert ".png" in fault(tmp_path / "photo.gif")
    np.save(tmp_path / "line.npy", np.zeros(5))
    assert "rows and columns" in fault(tmp_path / "line.npy")
    np.save(tmp_path / "one.npy", np.zeros((1, 5)))
    assert "At least 2 x 2" in fault(tmp_path / "one.npy")
    np.save(tmp_path / "complex.npy", np.zeros((5, 5), dtype=complex))
    assert "complex" in fault(tmp_path / "complex.npy")
