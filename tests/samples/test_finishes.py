"""Invented finishes: seamless, with the mean that their TOML file states."""

import numpy as np
import pytest
from PIL import Image

from rakelight.read.relief import read_finish
from rakelight.read.shipped import shipped_folder
from rakelight.samples.finishes import (
    acoustic_felt,
    oak_boards,
    painted_plaster,
    stone_flags,
    terrazzo,
)
from rakelight.samples.write import FINISHES, finish_text, srgb8

SMALL = {
    oak_boards: {"width_m": 2.4, "height_m": 0.64, "step_m": 0.004},
    terrazzo: {"width_m": 1.2, "height_m": 1.2, "step_m": 0.004},
    stone_flags: {"width_m": 1.8, "height_m": 1.2, "step_m": 0.004},
    painted_plaster: {"width_m": 0.6, "height_m": 0.6, "step_m": 0.004},
    acoustic_felt: {"width_m": 1.2, "height_m": 0.6, "step_m": 0.004},
}
CASES = [pytest.param(draw, id=draw.__name__) for draw in SMALL]


@pytest.fixture(scope="module")
def drawn():
    return {draw: draw(**sizes) for draw, sizes in SMALL.items()}


@pytest.mark.parametrize("draw", CASES)
def test_the_same_seed_draws_the_same(draw, drawn):
    np.testing.assert_array_equal(draw(**SMALL[draw]).reflectance_rgb, drawn[draw].reflectance_rgb)


@pytest.mark.parametrize("draw", CASES)
@pytest.mark.parametrize("axis", [0, 1])
def test_the_border_shows_no_seam(draw, axis, drawn):
    grey = drawn[draw].reflectance_rgb.mean(axis=-1)
    steps = np.diff(grey, axis=axis, append=np.take(grey, [0], axis=axis))
    rms = np.sqrt((steps**2).mean(axis=1 - axis))
    assert rms[-1] <= rms[:-1].max() * 1.25


@pytest.mark.parametrize("draw", CASES)
def test_reflectance_stays_within_what_a_surface_can_have(draw, drawn):
    values = drawn[draw].reflectance_rgb
    assert values.min() >= 0.02
    assert values.max() <= 0.9


def test_paint_is_nearly_even_and_terrazzo_is_not(drawn):
    def spread(draw):
        grey = drawn[draw].reflectance_rgb.mean(axis=-1)
        return grey.std() / grey.mean()

    assert spread(painted_plaster) < 0.02
    assert spread(terrazzo) > 0.1


def test_boards_differ_from_row_to_row_and_lie_apart(drawn):
    grey = drawn[oak_boards].reflectance_rgb.mean(axis=-1)
    gaps = np.flatnonzero(grey.mean(axis=1) < 0.5 * grey.mean())
    assert gaps.tolist() == [0, 40, 80, 120]  # every 160 mm
    boards = [np.median(grey[a + 2 : a + 38]) for a in gaps]
    assert np.std(boards) / np.mean(boards) > 0.02


@pytest.mark.parametrize("coat", FINISHES, ids=lambda coat: coat.name)
def test_the_shipped_file_states_its_own_mean(coat):
    folder = shipped_folder("textures") / "finishes"
    finish = read_finish(folder / f"{coat.name}.toml")
    assert finish.gloss == coat.gloss
    assert finish.reflectance_scale == pytest.approx(1, abs=0.01)  # the map needs no scaling
    assert finish.width_m >= 2.4
    assert finish.height_m >= 2.4


def test_the_shipped_files_are_what_the_generator_draws():
    coat = next(coat for coat in FINISHES if coat.name == "painted-plaster")
    made = coat.draw()
    folder = shipped_folder("textures") / "finishes"
    with Image.open(folder / f"{coat.name}.jpg") as image:
        shown = np.asarray(image, dtype=float)
    assert np.abs(shown - srgb8(made.reflectance_rgb)).mean() < 3  # JPEG, quality 90
    mean = float(made.reflectance_rgb.mean(axis=(0, 1)) @ [0.2126, 0.7152, 0.0722])  # Rec.709
    assert (folder / f"{coat.name}.toml").read_text() == finish_text(coat, made, mean)
