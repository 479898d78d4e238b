"""A relief and the TOML file beside it."""

import numpy as np
import pytest
from PIL import Image

from rakelight.errors import InputError
from rakelight.read.memory import available_memory_bytes
from rakelight.read.relief import read_texture

GOOD = {
    "title": '"Test stone"',
    "heights": '"stone.png"',
    "width": '"1.2 m"',
    "height": '"2 ft"',
    "depth": '"40 mm"',
}


@pytest.fixture
def stone(tmp_path):
    grey = np.array([[0, 65535], [13107, 32768], [0, 0]], dtype=np.uint16)
    Image.fromarray(grey).save(tmp_path / "stone.png")

    def write(**keys):
        table = {**GOOD, **keys}
        lines = [f"{key} = {value}" for key, value in table.items() if value is not None]
        path = tmp_path / "stone.toml"
        path.write_text("\n".join(lines))
        return path

    return write


def faults(*args, **keys):
    with pytest.raises(InputError) as caught:
        read_texture(*args, **keys)
    return caught.value.faults


def linear_mean(texture):
    code = texture.reflectance_encoded / 255
    # IEC 61966-2-1
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return linear.mean((0, 1)) * texture.reflectance_scale


def test_sizes_and_title_come_from_the_table(stone):
    texture = read_texture(stone())
    assert texture.title == "Test stone"
    assert (texture.width_m, texture.depth_m) == (1.2, 0.04)
    assert texture.height_m == pytest.approx(0.6096)
    assert texture.repeat == "tile"
    assert texture.backing_m == 0


def test_the_image_top_is_the_last_row(stone):
    texture = read_texture(stone())
    assert texture.heights[-1].tolist() == [0, 1]
    assert texture.heights[0].tolist() == [0, 0]


def test_white_backing_turns_the_relief_round(stone):
    texture = read_texture(stone(backing='"white"'))
    assert texture.heights[-1].tolist() == [1, 0]
    assert texture.backing_m == 0


def test_backing_as_a_grey_or_as_a_length(stone):
    assert read_texture(stone(backing="0.1")).backing_m == pytest.approx(0.004)
    assert read_texture(stone(backing='"12 mm"')).backing_m == pytest.approx(-0.012)
    assert read_texture(stone(), backing=0.02).backing_m == pytest.approx(-0.02)


def test_what_the_scene_says_wins(stone):
    texture = read_texture(
        stone(), width_m=3.0, height_m=2.0, depth_m=0.01, repeat="mirror", reflectance=0.2
    )
    assert (texture.width_m, texture.height_m, texture.depth_m) == (3, 2, 0.01)
    assert (texture.repeat, texture.reflectance) == ("mirror", 0.2)
    np.testing.assert_allclose(linear_mean(texture), 0.2)


def test_a_bare_image_needs_its_size_and_depth(stone, tmp_path):
    stone()
    (tmp_path / "stone.toml").unlink()
    path = tmp_path / "stone.png"
    assert "real size" in faults(path)[0]
    assert "depth" in faults(path, width_m=1.0)[0]
    texture = read_texture(path, width_m=1.0, depth_m=0.03)
    assert texture.height_m == pytest.approx(1.5)  # 2 x 3 square pixels
    assert any("square pixels" in note for note in texture.notes)
    assert any("reflectance" in note for note in texture.notes)


def test_an_image_takes_the_table_beside_it(stone, tmp_path):
    stone()
    assert read_texture(tmp_path / "stone.png").title == "Test stone"


def test_floats_keep_their_metres(tmp_path):
    heights = np.array([[-0.01, 0.005], [0.0, 0.02]], dtype=np.float32)
    np.save(tmp_path / "scan.npy", heights)
    texture = read_texture(tmp_path / "scan.npy", width_m=1, height_m=1)
    assert texture.depth_m == pytest.approx(0.03)
    np.testing.assert_allclose(texture.heights[::-1] * texture.depth_m - 0.01, heights, atol=1e-8)


def test_floats_of_no_plausible_depth_are_refused(tmp_path):
    np.save(tmp_path / "scan.npy", np.array([[0.0, 255.0], [1.0, 2.0]]))
    assert "span 255 m" in faults(tmp_path / "scan.npy", width_m=1, height_m=1)[0]
    texture = read_texture(tmp_path / "scan.npy", width_m=1, height_m=1, depth_m=0.05)
    assert (texture.depth_m, texture.heights.max()) == (0.05, 1)


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("width", '"-1 m"', "above 0"),
        ("width", '"wide"', "not a length"),
        ("height", "0", "above 0"),
        ("width", '"5 km"', "not a length"),
        ("width", '"900 m"', "more than 100 m"),
        ("depth", '"-4 mm"', "0 or more"),
        ("depth", '"3 m"', "not a room"),
        ("backing", '"grey"', '"black", "white"'),
        ("backing", "1.5", "0 (black) to 1 (white)"),
        ("backing", "true", '"black", "white"'),
        ("repeat", '"tiles"', 'Did you mean "tile"'),
        ("reflectance", "1.2", "0 to 1"),
        ("reflectance", "[0.1, 0.2]", "one number or three"),
        ("reflectance_map", '"gone.png"', "no such file"),
        ("heights", '"gone.png"', "no such file"),
        ("heights", "3", "must be text"),
        ("gloss", '"shiny"', "0 to 1"),
        ("suits_setback", '["200 mm", "50 mm"]', "smaller first"),
        ("suits_setback", '"50 mm"', "two lengths"),
        ("depht", '"40 mm"', 'Did you mean "depth"'),
        ("colour_of_the_sky", "1", "There are title"),
    ],
)
def test_each_fault_is_one_line_that_names_file_and_key(stone, key, value, says):
    path = stone(**{key: value})
    lines = faults(path)
    assert len(lines) == 1
    assert lines[0].startswith(f'{path}: "{key}"')
    assert says in lines[0]


def test_all_faults_are_told_at_once(stone):
    assert len(faults(stone(width='"x"', gloss="7", heights=None))) == 3


def test_a_backing_before_the_mean_plane_is_refused(stone):
    assert "mean plane" in faults(stone(backing="0.9"))[0]


def test_broken_and_missing_tables(stone, tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text("width = = 3")
    assert "not TOML" in faults(path)[0]
    path.write_bytes(b"\xff\xfe")
    assert "UTF-8" in faults(path)[0]
    assert "no such file" in faults(tmp_path / "gone.toml")[0]


def test_a_misspelt_name_gets_a_guess():
    assert 'Did you mean "split-ledgestone"' in faults("split-legdestone")[0]


def test_a_name_is_looked_up_in_the_folders_given_first(stone, tmp_path):
    stone()
    assert read_texture("stone", [tmp_path]).title == "Test stone"


def test_every_shipped_relief_is_read_and_reaches_its_stated_reflectance():
    from rakelight.samples.write import RELIEFS

    for entry in RELIEFS:
        texture = read_texture(entry.name)
        assert texture.title == entry.title
        assert min(texture.width_m, texture.height_m * 1.6) >= 2.4
        assert linear_mean(texture) @ [0.2126, 0.7152, 0.0722] == pytest.approx(
            texture.reflectance, rel=1e-3
        )
        # the map as drawn already has it: the scale only mends rounding
        assert texture.reflectance_scale == pytest.approx(1, abs=0.02)
        assert texture.suits_setback_m is not None
        assert texture.notes == ()


class TestReflectance:
    @pytest.fixture
    def mapped(self, stone, tmp_path):
        rng = np.random.default_rng(3)
        Image.fromarray(rng.integers(60, 200, (6, 8, 3), dtype=np.uint8)).save(tmp_path / "r.png")
        return lambda **keys: stone(reflectance_map='"r.png"', **keys)

    def test_the_mean_is_the_stated_one(self, mapped):
        texture = read_texture(mapped(reflectance="0.35"))
        assert linear_mean(texture) @ [0.2126, 0.7152, 0.0722] == pytest.approx(0.35, rel=1e-9)

    def test_three_numbers_shift_the_colour(self, mapped):
        texture = read_texture(mapped(), reflectance=(0.3, 0.25, 0.2))
        np.testing.assert_allclose(linear_mean(texture), [0.3, 0.25, 0.2], rtol=0.01)

    def test_an_even_colour_is_kept_to_half_a_code(self, stone):
        texture = read_texture(stone(reflectance="[0.5, 0.3, 0.1]"))
        np.testing.assert_allclose(linear_mean(texture), [0.5, 0.3, 0.1], rtol=0.01)

    def test_nothing_reflects_more_than_it_gets(self, mapped):
        lines = faults(mapped(), reflectance=0.9)
        assert "above 1" in lines[0]

    def test_a_few_bright_specks_are_held_at_one(self, stone, tmp_path):
        grey = np.full((40, 40, 3), 120, dtype=np.uint8)
        grey[3, 3] = 255
        Image.fromarray(grey).save(tmp_path / "r.png")
        texture = read_texture(stone(reflectance_map='"r.png"', reflectance="0.6"))
        code = texture.reflectance_encoded.max() / 255
        assert ((code + 0.055) / 1.055) ** 2.4 * texture.reflectance_scale <= 1
        assert any("held at" in note for note in texture.notes)

    def test_a_broken_map_is_one_line(self, mapped, tmp_path):
        path = mapped()
        (tmp_path / "r.png").write_bytes(b"no")
        assert "no image" in faults(path)[0]


def test_free_memory_as_linux_tells_it(tmp_path):
    meminfo = tmp_path / "meminfo"
    meminfo.write_text("MemTotal: 9 kB\nMemAvailable:    2048 kB\n")
    assert available_memory_bytes(meminfo) == 2048 * 1024
    fallback = available_memory_bytes(tmp_path / "gone")
    assert fallback is None or fallback > 2**20
