"""A known surface under a known light: the light goes, the surface and its colour stay."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from rakelight.build.photo_reflectance import check_shape, photo_reflectance

ROWS, COLUMNS = 300, 400
V, U = np.mgrid[0:ROWS, 0:COLUMNS] / 300


def stones(seed=4):
    """Reflectance of patches of a few colours with grain."""
    rng = np.random.default_rng(seed)
    tone = rng.uniform(0.25, 0.55, (10, 14)).repeat(30, 0).repeat(29, 1)[:ROWS, :COLUMNS]
    grain = 1 + 0.1 * gaussian_filter(rng.normal(size=tone.shape), 1)
    warm = rng.uniform(0.7, 1.0, (10, 14)).repeat(30, 0).repeat(29, 1)[:ROWS, :COLUMNS]
    return np.stack([tone * grain, tone * grain * warm, tone * grain * warm**2], axis=-1)


def taken(surface, light):
    return (surface * light[..., None]).astype(np.float32)


def none():
    return np.zeros((ROWS, COLUMNS), bool)


def linear(encoded):
    code = encoded / 255
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def number(found, key):
    return next(n.value for n in found.numbers if n.key == f"photo.{key}")


LIGHTS = {
    "even": np.ones((ROWS, COLUMNS)),
    "leaning": 0.35 + 0.4 * U,
    "lamp": 0.9 / (1 + (U - 0.3) ** 2 + (V - 0.2) ** 2) ** 1.5,
    "vignette": 0.95 - 0.5 * ((U - 0.66) ** 2 + (V - 0.5) ** 2),
}


@pytest.mark.parametrize("light", LIGHTS)
def test_smooth_light_is_divided_out_and_colour_is_kept(light):
    surface = stones()
    photo = taken(surface, LIGHTS[light])
    found = photo_reflectance(photo, none(), none(), 0.3)
    back = linear(found.encoded)
    ratio = (back / surface)[..., 1]
    ratio /= ratio.mean()
    smooth = gaussian_filter(ratio, 30)
    before = float(np.ptp(LIGHTS[light] / LIGHTS[light].mean()))
    # an even light is left nearly alone; else stones that differ by chance tip the fit
    assert np.ptp(smooth) < (0.06 if light == "even" else 0.25)
    if light != "even":
        assert np.ptp(smooth) < 0.45 * before
    # chromaticity pixel by pixel, to the rounding of 8 bits
    own = surface[..., 0] / surface[..., 2]
    assert np.abs(back[..., 0] / back[..., 2] / own - 1).max() < 0.06


def test_what_was_divided_out_is_named():
    found = photo_reflectance(taken(stones(), LIGHTS["leaning"]), none(), none(), 0.3)
    truth = LIGHTS["leaning"].max() / LIGHTS["leaning"].min()
    assert number(found, "lighting_ratio") == pytest.approx(truth, rel=0.15)
    assert "own shadows" in found.notes[0]


def test_an_even_grey_card_comes_back_even():
    photo = taken(np.full((ROWS, COLUMNS, 3), 0.4), LIGHTS["leaning"])
    found = photo_reflectance(photo, none(), none(), 0.4)
    codes = found.encoded.reshape(-1, 3)
    assert np.ptp(codes, axis=0).max() <= 3
    assert (codes[:, 0] == codes[:, 2]).all()


def test_clipped_and_black_parts_are_left_out_and_said():
    photo = taken(stones(), LIGHTS["leaning"])
    clipped, black = none(), none()
    clipped[:60, 250:320] = True
    photo[clipped] = 1.0
    black[200:230, 10:60] = True
    photo[black] = 0.0
    clean = photo_reflectance(taken(stones(), LIGHTS["leaning"]), none(), none(), 0.25)
    found = photo_reflectance(photo, clipped, black, 0.25)
    assert number(found, "lighting_ratio") == pytest.approx(
        number(clean, "lighting_ratio"), rel=0.1
    )
    assert any("3.5% is clipped" in note for note in found.notes)
    assert any("1.2% is black" in note for note in found.notes)
    clipped[:100] = True
    with pytest.raises(ValueError, match=r"3\d% of the photograph is clipped or black"):
        photo_reflectance(photo, clipped, black, 0.25)


def test_a_reflectance_that_passes_1_names_the_one_that_does_not():
    photo = taken(stones(), LIGHTS["even"])
    with pytest.raises(ValueError, match=r"state at most (0\.\d\d)") as caught:
        photo_reflectance(photo, none(), none(), 0.9)
    limit = float(str(caught.value).split("at most ")[1])
    assert photo_reflectance(photo, none(), none(), limit).encoded.max() == 255
    for wrong in (0, 1.2):
        with pytest.raises(ValueError, match="must be above 0"):
            photo_reflectance(photo, none(), none(), wrong)


def test_shapes_must_agree_within_a_hundredth():
    assert check_shape((300, 400), 2.0, 1.5) == pytest.approx(1)
    assert check_shape((300, 402), 2.0, 1.5) == pytest.approx(0.995, abs=1e-3)
    with pytest.raises(ValueError, match=r"400 x 310 pixels.*1\.290.*1\.333"):
        check_shape((310, 400), 2.0, 1.5)
