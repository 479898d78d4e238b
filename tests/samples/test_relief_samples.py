"""Invented reliefs: seamless, deep as said, the same every time, and no light in the colour."""

import tomllib

import numpy as np
import pytest
from PIL import Image

from rakelight.read.shipped import shipped_folder
from rakelight.samples.brick import running_brick
from rakelight.samples.concrete import board_concrete
from rakelight.samples.coursing import lay_courses
from rakelight.samples.ledgestone import split_ledgestone
from rakelight.samples.plaster import trowelled_plaster
from rakelight.samples.slats import vertical_slats
from rakelight.samples.tile import folded_tile
from rakelight.samples.write import RELIEFS, grey16, sidecar, srgb8, write_relief

SMALL = {
    split_ledgestone: {"width_m": 1.8, "height_m": 0.36, "step_m": 0.003},
    trowelled_plaster: {"width_m": 0.8, "height_m": 0.6, "step_m": 0.004},
    board_concrete: {"width_m": 0.6, "height_m": 0.6, "step_m": 0.003},
    running_brick: {"width_m": 0.675, "height_m": 0.3, "step_m": 0.0025},
    vertical_slats: {"width_m": 0.27, "height_m": 0.3, "step_m": 0.0015},
    folded_tile: {"width_m": 0.45, "height_m": 0.3, "step_m": 0.0025},
}
CASES = [pytest.param(draw, sizes, id=draw.__name__) for draw, sizes in SMALL.items()]


@pytest.fixture(scope="module")
def drawn():
    return {draw: draw(**sizes) for draw, sizes in SMALL.items()}


@pytest.mark.parametrize(("draw", "sizes"), CASES)
def test_the_same_seed_draws_the_same_relief(draw, sizes, drawn):
    again = draw(**sizes)
    np.testing.assert_array_equal(again.heights_m, drawn[draw].heights_m)
    np.testing.assert_array_equal(again.reflectance_rgb, drawn[draw].reflectance_rgb)


@pytest.mark.parametrize(("draw", "sizes"), CASES)
def test_another_seed_draws_another(draw, sizes, drawn):
    other = draw(seed=12345, **sizes)
    assert np.abs(other.heights_m - drawn[draw].heights_m).max() > 1e-5


@pytest.mark.parametrize(("draw", "sizes"), CASES)
@pytest.mark.parametrize("axis", [0, 1])
def test_the_border_shows_no_seam(draw, sizes, axis, drawn):
    # steps across the border are drawn from the same lot as steps between neighbours inside:
    # their RMS lies within what single lines inside show
    heights = drawn[draw].heights_m
    steps = np.diff(heights, axis=axis, append=np.take(heights, [0], axis=axis))
    rms = np.sqrt((steps**2).mean(axis=1 - axis))
    assert rms[-1] <= rms[:-1].max() * 1.2
    flat = np.abs(drawn[draw].heights_m.mean(axis=axis))
    assert flat.std() < drawn[draw].depth_m  # and the relief is not a ramp that jumps back


@pytest.mark.parametrize(("draw", "sizes"), CASES)
def test_heights_and_reflectance_stay_within_what_is_stated(draw, sizes, drawn):
    sample = drawn[draw]
    assert sample.heights_m.min() >= 0
    assert sample.heights_m.max() <= sample.depth_m
    assert 0.02 <= sample.reflectance_rgb.min()
    assert sample.reflectance_rgb.max() <= 0.85
    assert sample.heights_m.shape == sample.reflectance_rgb.shape[:2]


def test_ledgestone_is_about_40_mm_deep_with_dark_joints(drawn):
    sample = drawn[split_ledgestone]
    depth = sample.heights_m.max() - sample.heights_m.min()
    assert 0.034 < depth < 0.044
    grey = sample.reflectance_rgb.mean(axis=-1)
    joints = sample.heights_m < 0.009  # their arrises are worn
    assert 0.01 < joints.mean() < 0.2
    assert grey[joints].mean() < 0.65 * grey[~joints].mean()


def test_ledgestone_has_no_light_in_its_colour():
    # light from above would make the reflectance follow the slope up the wall
    sample = split_ledgestone(width_m=1.8, height_m=0.36, step_m=0.003)
    faces = sample.heights_m > 0.012
    slope = np.gradient(sample.heights_m, axis=0)[faces]
    grey = sample.reflectance_rgb.mean(axis=-1)[faces]
    assert abs(np.corrcoef(slope, grey)[0, 1]) < 0.08


def test_slats_are_30_mm_wide_with_gaps_of_15(drawn):
    sample = drawn[vertical_slats]
    line = sample.heights_m[50] > 0.018
    starts = np.flatnonzero(line & ~np.roll(line, 1))
    assert starts.size == 6
    assert line.mean() == pytest.approx(30 / 45, abs=0.02)
    assert 0.030 < sample.heights_m.max() < 0.040


def test_brick_joints_lie_about_8_mm_behind_the_faces(drawn):
    heights = drawn[running_brick].heights_m
    # the mortar at mid-joint is the lowest 5 %, the faces the upper half
    recess = np.percentile(heights, 75) - np.percentile(heights, 5)
    assert recess == pytest.approx(0.008, abs=0.0015)


def test_board_steps_are_1_to_4_mm():
    heights = board_concrete(width_m=2.7, height_m=0.6, step_m=0.003).heights_m
    columns = np.median(heights, axis=0)
    steps = np.abs(columns - np.roll(columns, 6))
    assert 0.0009 < np.percentile(steps, 99) < 0.0045


def test_plaster_stays_under_2_mm(drawn):
    heights = drawn[trowelled_plaster].heights_m
    assert 0.0003 < heights.max() - heights.min() < 0.002


@pytest.mark.parametrize("seed", [1, 2, 11, 40])
def test_stones_cover_the_wall_once_and_keep_their_sizes(seed):
    width, height = 3600, 1800
    stones = lay_courses(seed, width, height)
    covered = np.zeros((height, width), dtype=np.uint8)
    for stone in stones:
        rows = np.arange(stone.foot, stone.foot + stone.rise) % height
        columns = np.arange(stone.left, stone.left + stone.length) % width
        covered[np.ix_(rows, columns)] += 1
    assert covered.min() == covered.max() == 1
    assert {25 <= s.rise <= 110 for s in stones} == {True}
    assert {120 <= s.length <= 600 for s in stones} == {True}


@pytest.mark.parametrize("seed", [1, 2, 11, 16])
def test_no_bed_joint_crosses_the_wall(seed):
    width, height = 3600, 1800
    beds = np.zeros((height, width), dtype=bool)
    for stone in lay_courses(seed, width, height):
        beds[stone.foot % height, np.arange(stone.left, stone.left + stone.length) % width] = True
    assert longest_run(beds) < 0.75 * width


@pytest.mark.parametrize("seed", [1, 2, 11, 16])
def test_no_upright_joint_runs_through_many_courses(seed):
    width, height = 3600, 1800
    ends = np.zeros((width, height), dtype=bool)
    for stone in lay_courses(seed, width, height):
        ends[stone.left % width, np.arange(stone.foot, stone.foot + stone.rise) % height] = True
    assert longest_run(ends) < 350  # two bands and their steps


def longest_run(lines):
    """Longest stretch of True along the second axis, which closes on itself."""
    longest = 0
    for line in lines[lines.any(axis=1)]:
        gaps = np.flatnonzero(~line)
        if gaps.size == 0:
            return line.size
        longest = max(longest, int(np.diff(gaps, append=gaps[0] + line.size).max()) - 1)
    return longest


def test_too_small_a_wall_is_refused():
    with pytest.raises(ValueError, match="1800"):
        lay_courses(1, 1500, 400)


def test_sizes_that_would_leave_a_seam_are_refused():
    with pytest.raises(ValueError, match="whole number"):
        trowelled_plaster(width_m=0.801, height_m=0.6, step_m=0.004)
    with pytest.raises(ValueError, match="whole number of bricks"):
        running_brick(width_m=0.6, height_m=0.3)


def test_greys_stand_for_the_heights_to_their_quantum(drawn):
    sample = drawn[folded_tile]
    grey = grey16(sample, 4e-6)
    back = grey / 65535 * sample.depth_m
    assert np.abs(back - sample.heights_m).max() <= 2.1e-6


def test_srgb_codes_of_known_reflectances():
    # IEC 61966-2-1: linear 0.2158605 is code 128 / 255
    assert srgb8(np.array([0.0, 0.0031308, 0.2158605, 1.0])).tolist() == [0, 10, 128, 255]


def test_files_are_written_the_same_twice_and_say_their_size(tmp_path):
    entry = RELIEFS[1]._replace(draw=lambda: trowelled_plaster(**SMALL[trowelled_plaster]))
    for folder in ("a", "b"):
        write_relief(tmp_path / folder, entry)
    names = sorted(p.relative_to(tmp_path / "a") for p in (tmp_path / "a").rglob("*.*"))
    assert {n.as_posix() for n in names} == {
        "trowelled-plaster.toml",
        "trowelled-plaster/height.png",
        "trowelled-plaster/reflectance.jpg",
    }
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    table = tomllib.loads((tmp_path / "a" / "trowelled-plaster.toml").read_text())
    assert (table["width"], table["height"], table["depth"]) == ("0.8 m", "0.6 m", "1.8 mm")
    with Image.open(tmp_path / "a" / "trowelled-plaster" / "height.png") as image:
        assert image.mode == "I;16"


@pytest.mark.parametrize("name", ["vertical-slats", "board-concrete"])
def test_the_shipped_files_are_what_the_generator_draws(name):
    folder = shipped_folder("textures")
    entry = next(entry for entry in RELIEFS if entry.name == name)
    sample = entry.draw()
    with Image.open(folder / name / "height.png") as image:
        np.testing.assert_array_equal(np.asarray(image), grey16(sample, entry.coarsest_m))
    with Image.open(folder / name / "reflectance.jpg") as image:
        colour = np.asarray(image, dtype=float)
    exact = srgb8(sample.reflectance_rgb).astype(float)
    assert np.abs(colour - exact).mean() < 3  # JPEG, quality 90
    mean = float(sample.reflectance_rgb.mean(axis=(0, 1)) @ [0.2126, 0.7152, 0.0722])  # Rec.709
    assert (folder / f"{name}.toml").read_text() == sidecar(entry, sample, mean)


def test_every_listed_relief_is_shipped_and_small_enough():
    folder = shipped_folder("textures")
    for entry in RELIEFS:
        for file in ("height.png", "reflectance.jpg"):
            assert (folder / entry.name / file).stat().st_size < 6 * 2**20
        assert (folder / f"{entry.name}.toml").is_file()
