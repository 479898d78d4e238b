"""Photographs in any common file, or a plain refusal."""

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from rakelight.errors import InputError
from rakelight.read.photo import read_photo

SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
PIXELS = np.arange(4 * 6 * 3, dtype=np.uint8).reshape(4, 6, 3) * 3


def saved(tmp_path, name, image, **how):
    image.save(tmp_path / name, **how)
    return tmp_path / name


def test_codes_become_linear_light(tmp_path):
    pixels = np.full((2, 3, 3), 188, np.uint8)
    pixels[0, 0] = 255, 0, 10
    pixels[1, 2] = 0
    photo = read_photo(saved(tmp_path, "a.png", Image.fromarray(pixels)))
    assert photo.linear[0, 1, 0] == pytest.approx(0.5029, abs=1e-4)  # IEC 61966-2-1 at 188
    assert photo.linear[0, 0, 2] == pytest.approx(10 / 255 / 12.92, rel=1e-5)
    assert photo.clipped.sum() == 1
    assert photo.clipped[0, 0]
    assert photo.black.sum() == 1
    assert photo.notes == ()


def test_a_turned_photograph_is_turned_upright(tmp_path):
    image = Image.fromarray(PIXELS)
    exif = image.getexif()
    exif[0x0112] = 6  # the top is on the right
    photo = read_photo(saved(tmp_path, "a.png", image, exif=exif))
    assert photo.linear.shape == (6, 4, 3)
    plain = read_photo(saved(tmp_path, "b.png", image))
    assert np.array_equal(photo.linear, np.rot90(plain.linear, -1))
    assert "turned upright" in photo.notes[0]


def test_another_profile_is_converted_and_said(tmp_path):
    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()
    plain = Image.fromarray(np.full((4, 4, 3), (150, 120, 90), np.uint8))
    other = ImageCms.profileToProfile(
        plain, ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), outputMode="LAB"
    )
    photo = read_photo(saved(tmp_path, "a.tif", other, icc_profile=lab))
    own = read_photo(saved(tmp_path, "b.png", plain))
    assert photo.linear == pytest.approx(own.linear, abs=0.01)  # a code or two
    assert "converted from its profile" in photo.notes[0]


@pytest.mark.parametrize(
    ("name", "image", "words"),
    [
        ("a.jpg", Image.fromarray(PIXELS).convert("CMYK"), "CMYK without a colour profile"),
        ("a.png", Image.fromarray(np.zeros((4, 4), np.uint16)), "more than 8 bits"),
        ("a.tif", Image.fromarray(np.zeros((4, 4), np.float32)), "more than 8 bits"),
        ("a.png", Image.new("RGBA", (4, 4), (9, 9, 9, 40)), "transparent"),
    ],
)
def test_what_has_no_known_meaning_is_refused(tmp_path, name, image, words):
    with pytest.raises(InputError, match=words) as caught:
        read_photo(saved(tmp_path, name, image))
    assert "\n" not in str(caught.value)


def test_deep_colour_without_a_profile_is_refused(tmp_path):
    import tifffile

    tifffile.imwrite(tmp_path / "a.tif", np.zeros((8, 8, 3), np.uint16), photometric="rgb")
    with pytest.raises(InputError, match=r"8-bit sRGB"):
        read_photo(tmp_path / "a.tif")


def test_grey_is_said_and_opaque_alpha_is_taken(tmp_path):
    photo = read_photo(saved(tmp_path, "a.png", Image.new("L", (4, 4), 90)))
    assert "without colour" in photo.notes[0]
    assert read_photo(
        saved(tmp_path, "b.png", Image.new("RGBA", (4, 4), (9, 9, 9, 255)))
    ).linear.size


def test_missing_and_folder(tmp_path):
    for path, words in ((tmp_path / "no.png", "no such file"), (tmp_path, "folder")):
        with pytest.raises(InputError, match=words):
            read_photo(path)


def _seed(kind):
    buffer = io.BytesIO()
    Image.fromarray(PIXELS).save(buffer, kind, **({"icc_profile": SRGB} if kind == "PNG" else {}))
    return buffer.getvalue()


@given(
    kind=st.sampled_from(["PNG", "JPEG", "TIFF"]),
    at=st.floats(0, 1),
    new=st.binary(max_size=6),
    cut=st.booleans(),
)
@settings(max_examples=120, deadline=None)
def test_any_damage_gives_a_photograph_or_a_refusal(tmp_path_factory, kind, at, new, cut):
    data = _seed(kind)
    k = int(at * len(data))
    path = tmp_path_factory.getbasetemp() / "fuzz.img"
    path.write_bytes(data[:k] + new + (b"" if cut else data[k + len(new) :]))
    try:
        photo = read_photo(path)
    except InputError as error:
        says = str(error)
        assert says.startswith(str(path))
        assert "\n" not in says
    else:
        assert np.isfinite(photo.linear).all()
        assert photo.linear.shape[:2] == photo.clipped.shape
