"""`rakelight relief` with a scan or a photograph."""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from rakelight.cli.relief import relief
from rakelight.errors import InputError
from rakelight.read.relief import read_texture
from reference.made_meshes import glb
from reference.made_scans import field, scanned, sheet, turning, without


def run(*args):
    return CliRunner().invoke(relief, [str(a) for a in args])


def ply(points, faces):
    rows = np.zeros(len(faces), [("n", "u1"), ("k", "<i4", 3)])
    rows["n"], rows["k"] = 3, faces
    head = (
        f"ply\nformat binary_little_endian 1.0\nelement vertex {len(points)}\n"
        "property double x\nproperty double y\nproperty double z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    return head.encode() + points.astype("<f8").tobytes() + rows.tobytes()


@pytest.fixture
def scan(tmp_path):
    points, faces = sheet(0.4, 0.3, 0.002)
    faces = without(points, faces, 0.2, 0.15, 0.01)
    path = tmp_path / "scan.ply"
    path.write_bytes(ply(1000 * scanned(points, turning(6, 0, 0)), faces))
    return path


@pytest.fixture
def heights(tmp_path):
    v, u = np.mgrid[0:90, 0:120] / 100
    grey = (32768 + 30000 * np.sin(20 * u) * np.cos(15 * v)).astype(np.uint16)
    Image.fromarray(grey).save(tmp_path / "wall.png")
    (tmp_path / "wall.toml").write_text(
        'title = "Waves"\nheights = "wall.png"\nwidth = "1.2 m"\nheight = "0.9 m"\n'
        'depth = "20 mm"\nbacking = "5 mm"\nrepeat = "stretch"\ngloss = 0.1\n'
    )
    return tmp_path / "wall.toml"


@pytest.fixture
def photo(tmp_path):
    rng = np.random.default_rng(2)
    tone = rng.uniform(90, 140, (9, 12, 3)).repeat(20, 0).repeat(20, 1)
    Image.fromarray(tone.astype(np.uint8)).save(tmp_path / "photo.png")
    return tmp_path / "photo.png"


def test_a_scan_becomes_a_texture_that_reads_back(scan, tmp_path):
    result = run(scan, "--unit", "mm", "-o", tmp_path / "own" / "stone", "--step", "2 mm")
    assert result.exit_code == 0, result.output
    texture = read_texture(tmp_path / "own" / "stone.toml")
    assert (texture.width_m, texture.height_m) == (
        pytest.approx(0.4, abs=0.004), pytest.approx(0.3, abs=0.004),
    )  # fmt: skip
    assert texture.repeat == "mirror"
    made = texture.heights * texture.depth_m
    rows, columns = made.shape
    u, v = np.meshgrid((np.arange(columns) + 0.5) * 0.002, (np.arange(rows) + 0.5) * 0.002)
    # within the hole's edge a texture of 16 bits is the field that was scanned
    error = made - field(u, v)
    error -= np.median(error)
    assert np.sqrt(np.mean(error[np.hypot(u - 0.2, v - 0.15) > 0.02] ** 2)) < 4e-4
    with Image.open(tmp_path / "own" / "stone" / "height.png") as image:
        assert image.mode == "I;16"
        assert np.asarray(image).max() == 65535
    for words in ("0.3%  of the rectangle were holes", "lies behind, lost", "wrote"):
        assert words in result.output
    comments = (tmp_path / "own" / "stone.toml").read_text()
    assert "# From scan.ply." in comments
    assert str(tmp_path) not in comments


def test_the_same_files_every_time_and_a_made_one_may_be_replaced(scan, tmp_path):
    def bytes_of():
        assert run(scan, "--unit", "mm", "-o", tmp_path / "s", "--tile").exit_code == 0
        return (tmp_path / "s.toml").read_bytes(), (tmp_path / "s" / "height.png").read_bytes()

    assert bytes_of() == bytes_of()
    assert read_texture(tmp_path / "s.toml").repeat == "tile"


def test_json_holds_what_was_lost(scan, tmp_path):
    result = run(scan, "--unit", "mm", "-o", tmp_path / "s", "--json")
    numbers = json.loads(result.output)["numbers"]
    assert numbers["scan.hole_share"]["value"] == pytest.approx(np.pi * 1e-4 / 0.12, rel=0.1)
    assert "relief.depth_m" in numbers


def test_options_are_passed_on(scan, tmp_path):
    out = tmp_path / "s"
    crop = ("--crop", "50 mm, 20 mm, 0.2 m, 100")
    result = run(scan, "--unit", "mm", "-o", out, *crop, "--reflectance", "0.3", "--turn", "-2")
    assert result.exit_code == 0, result.output
    texture = read_texture(tmp_path / "s.toml")
    assert (texture.width_m, texture.height_m) == (pytest.approx(0.2), pytest.approx(0.1))
    assert texture.reflectance == 0.3
    assert "--turn 0.0 would set it upright" in result.output


def test_front_is_named_in_the_files_own_axes(tmp_path):
    points, faces = sheet(0.3, 0.2, 0.01)
    # y up as glTF has it; the front toward +z
    path = tmp_path / "a.glb"
    path.write_bytes(glb(points, faces))
    depths = []
    for front in ("+z", "-z"):
        assert run(path, "-o", tmp_path / "s", "--front", front, "--step", "5 mm").exit_code == 0
        texture = read_texture(tmp_path / "s.toml")
        depths.append(texture.heights * texture.depth_m)
    seen, behind = depths
    assert seen.shape == (40, 60)
    u, v = np.meshgrid((np.arange(60) + 0.5) * 0.005, (np.arange(40) + 0.5) * 0.005)
    assert np.corrcoef(seen.ravel(), field(u, v).ravel())[0, 1] > 0.9
    assert np.corrcoef(behind[:, ::-1].ravel(), field(u, v).ravel())[0, 1] < -0.9


def test_a_photograph_is_put_beside_the_heights(heights, photo, tmp_path):
    result = run(heights, "--photo", photo, "--reflectance", "0.4", "-o", tmp_path / "both")
    assert result.exit_code == 0, result.output
    before, after = read_texture(heights), read_texture(tmp_path / "both.toml")
    assert np.allclose(after.heights, before.heights, atol=1e-5)
    assert after.reflectance == pytest.approx(0.4)
    assert after.reflectance_encoded.shape == (180, 240, 3)
    for name in ("title", "width_m", "height_m", "depth_m", "repeat", "gloss"):
        assert getattr(after, name) == getattr(before, name)
    assert after.backing_m == pytest.approx(before.backing_m, abs=1e-6)
    assert (tmp_path / "both" / "reflectance.png").is_file()
    assert "lighting divided out" in result.output
    # row 0 at the foot in both
    assert (after.reflectance_encoded[-1, 0] > after.reflectance_encoded[0, 0]).any()


def test_a_photograph_fits_a_scan_too(tmp_path, scan, photo):
    crop = ("--crop", "0, 0, 240, 180")
    args = ("--unit", "mm", "--photo", photo, "--reflectance", "0.4", "-o", tmp_path / "s")
    result = run(scan, *crop, *args)
    assert result.exit_code == 0, result.output
    assert read_texture(tmp_path / "s.toml").reflectance_encoded.shape == (180, 240, 3)
    result = run(scan, "--crop", "0, 0, 250, 180", *args)
    assert isinstance(result.exception, InputError)
    assert "240 x 180 pixels" in str(result.exception)


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("--unit", "mm"), "-o FOLDER/NAME"),
        (("--unit", "mm", "-o", "s", "--width", "1 m"), "a height image's"),
        (("--unit", "mm", "-o", "a b"), "letters, digits"),
        (("--unit", "mm", "-o", "s", "--crop", "1,2,3"), "left, foot, width and height"),
        (("--unit", "mm", "-o", "s", "--turn", "left"), "--turn"),
        (("--unit", "mm", "-o", "s", "--blend", "5"), "give --tile too"),
        (("--unit", "mm", "-o", "s", "--photo", "p.png"), "--photo needs --reflectance"),
        (("--unit", "yd", "-o", "s"), "--unit"),
    ],
)
def test_options_that_cannot_be(scan, tmp_path, args, words, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run(scan, *args)
    assert result.exit_code == 2
    assert words in result.output
    assert not (tmp_path / "s.toml").exists()


def test_scan_options_are_refused_for_heights(heights, tmp_path):
    result = run(heights, "--unit", "mm")
    assert result.exit_code == 2
    assert "is no scan" in result.output
    result = run(heights, "-o", tmp_path / "s")
    assert result.exit_code == 2
    assert "--photo" in result.output


def test_faults_are_one_line_and_nothing_is_written(scan, tmp_path):
    cut = tmp_path / "cut.ply"
    cut.write_bytes(scan.read_bytes()[:-1000])
    for file, args, words in (
        (scan, (), "do not say their unit"),
        (scan, ("--unit", "m"), "at most 100 m"),
        (cut, ("--unit", "mm"), "truncated"),
        (scan, ("--unit", "mm", "--holes", "0.001"), "holes are 0.3%"),
        (scan, ("--unit", "mm", "--step", "200"), "too small for a step"),
        (scan, ("--unit", "mm", "--step", "0.0001"), "would fit"),
    ):
        result = run(file, *args, "-o", tmp_path / "s")
        assert isinstance(result.exception, InputError), (args, result.output)
        assert words in str(result.exception)
        assert len(result.exception.faults) == 1
        assert "\n" not in str(result.exception)
    assert not (tmp_path / "s.toml").exists()
    assert not (tmp_path / "s").exists()


def test_a_texture_of_the_users_own_is_never_lost(heights, photo):
    before = heights.read_text()
    result = run(heights, "--photo", photo, "--reflectance", "0.4", "-o", heights)
    assert isinstance(result.exception, InputError)
    assert "would be lost" in str(result.exception)
    assert heights.read_text() == before
