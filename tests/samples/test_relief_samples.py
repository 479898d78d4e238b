"""Invented reliefs: seamless, deep as said, the same every time, and no light in the colour."""

import tomllib

import numpy as np
import pytest
from PIL import Image

from rakelight.read.reflectance import read_reflectance
from rakelight.read.relief import read_texture
from rakelight.read.shipped import shipped_folder
from rakelight.samples.baguettes import terracotta_baguettes
from rakelight.samples.blasted import shot_blasted_concrete
from rakelight.samples.brick import running_brick
from rakelight.samples.concrete import board_concrete
from rakelight.samples.coursing import lay_courses
from rakelight.samples.fluted import fluted_plaster
from rakelight.samples.ledgestone import split_ledgestone
from rakelight.samples.limestone import rough_limestone
from rakelight.samples.plaster import trowelled_plaster
from rakelight.samples.plasterboard import taped_plasterboard
from rakelight.samples.slats import vertical_slats
from rakelight.samples.tile import folded_tile
from rakelight.samples.wave import wave_panel
from rakelight.samples.write import RELIEFS, grey16, sidecar, srgb8, write_relief

SMALL = {
    split_ledgestone: {"width_m": 1.8, "height_m": 0.36, "step_m": 0.003},
    trowelled_plaster: {"width_m": 0.8, "height_m": 0.6, "step_m": 0.004},
    board_concrete: {"width_m": 0.6, "height_m": 0.6, "step_m": 0.003},
    running_brick: {"width_m": 0.675, "height_m": 0.3, "step_m": 0.0025},
    vertical_slats: {"width_m": 0.27, "height_m": 0.3, "step_m": 0.0015},
    folded_tile: {"width_m": 0.45, "height_m": 0.3, "step_m": 0.0025},
    rough_limestone: {"width_m": 1.2, "height_m": 0.6, "step_m": 0.004},
    fluted_plaster: {"width_m": 0.36, "height_m": 0.6, "step_m": 0.002},
    terracotta_baguettes: {"width_m": 2.4, "height_m": 0.3, "step_m": 0.0025},
    shot_blasted_concrete: {"width_m": 0.3, "height_m": 0.24, "step_m": 0.0015},
    wave_panel: {"width_m": 1.2, "height_m": 1.2, "step_m": 0.004},
    taped_plasterboard: {"width_m": 2.4, "height_m": 2.4, "step_m": 0.004},
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
    joints = grey < 0.55 * np.median(grey)
    assert 0.02 < joints.mean() < 0.2
    # cracks between stones that lie on each other, not moats round each one
    behind = np.median(sample.heights_m) - np.median(sample.heights_m[joints])
    assert 0.002 < behind < 0.012


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


def test_plasterboard_has_a_hump_under_a_millimetre_every_1_2_m():
    heights = taped_plasterboard(step_m=0.004).heights_m
    level = np.median(heights, axis=1)
    rows = level.size
    step = 2.4 / rows
    for joint in (0, rows // 2):  # boards laid level: at 0 and 1.2 m of 2.4 m
        around = np.roll(level, rows // 4 - joint)
        away = np.abs(np.arange(rows) - rows // 4) * step
        hump = around[away < 0.05].max() - np.median(around[(away > 0.2) & (away < 0.4)])
        assert 0.0003 < hump < 0.001
    # nor is any screw or crossing proud by more over its surroundings
    from scipy.ndimage import median_filter

    proud = heights[::4, ::4] - median_filter(heights[::4, ::4], 41, mode="wrap")
    assert proud.max() < 0.001
    assert heights.max() - heights.min() < 0.0024


def test_flutes_are_14_mm_deep_every_60_mm(drawn):
    profile = np.median(drawn[fluted_plaster].heights_m, axis=0)
    assert profile.max() - profile.min() == pytest.approx(0.0145, abs=0.0015)
    power = np.abs(np.fft.rfft(profile - profile.mean()))
    assert np.argmax(power) == 6  # in 0.36 m


def test_baguettes_are_50_mm_tall_with_gaps_of_25(drawn):
    sample = drawn[terracotta_baguettes]
    line = np.median(sample.heights_m, axis=1) > 0.015
    assert line.mean() == pytest.approx(50 / 75, abs=0.03)
    assert np.flatnonzero(line & ~np.roll(line, 1)).size == 4
    grey = sample.reflectance_rgb.mean(axis=-1)
    assert grey[line].mean() > 3 * grey[~line].mean()


def test_wave_crests_lie_about_92_mm_apart(drawn):
    heights = drawn[wave_panel].heights_m
    crests = [
        np.flatnonzero((row > np.roll(row, 1)) & (row >= np.roll(row, -1)) & (row > row.mean()))
        for row in heights[::50]
    ]
    apart = 1.2 / np.mean([c.size for c in crests])
    assert apart == pytest.approx(0.092, rel=0.12)
    assert 0.012 < heights.max() - heights.min() < 0.024


def test_limestone_blocks_stand_forward_of_their_joints(drawn):
    heights = drawn[rough_limestone].heights_m
    assert 0.02 < np.percentile(heights, 95) - np.percentile(heights, 2) < 0.045


def test_blasted_concrete_shows_stones_of_several_millimetres(drawn):
    sample = drawn[shot_blasted_concrete]
    assert 0.003 < sample.heights_m.max() - sample.heights_m.min() < 0.009
    # colour goes from stone to stone: alike within 3 mm, not at 30 mm
    grey = sample.reflectance_rgb.mean(axis=-1)
    grey = grey - grey.mean()
    near = (grey * np.roll(grey, 2, axis=1)).mean() / (grey**2).mean()
    far = (grey * np.roll(grey, 20, axis=1)).mean() / (grey**2).mean()
    assert near > 0.5 > 0.25 > far


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


@pytest.mark.parametrize("name", ["vertical-slats", "board-concrete", "fluted-plaster"])
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
    assert len(RELIEFS) >= 12
    everything = [path.stat().st_size for path in folder.rglob("*") if path.is_file()]
    assert sum(everything) < 60 * 2**20


def test_every_relief_is_large_enough_and_says_what_it_is():
    for entry in RELIEFS:
        texture = read_texture(entry.name)
        assert texture.width_m >= 2.4
        assert texture.height_m >= 1.2
        assert texture.gloss == entry.gloss
        assert texture.suits_setback_m == tuple(v / 1000 for v in entry.suits_setback_mm)
        # the map's own mean is the stated reflectance
        _, _, mean = read_reflectance(
            shipped_folder("textures") / entry.name / "reflectance.jpg", None, []
        )
        assert texture.reflectance == pytest.approx(mean, abs=0.004)
        # and the heights use most of the stated depth
        span = float(texture.heights.max() - texture.heights.min())
        assert 0.5 < span <= 1
