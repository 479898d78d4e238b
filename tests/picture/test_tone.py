import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rakelight.picture.exposure import peak_cd_m2
from rakelight.picture.tone import (
    KNEE,
    REC709,
    WHITE,
    curve,
    display_linear,
    dither_pattern,
    from_pixels,
    inverse_curve,
    srgb_decode,
    srgb_encode,
    to_pixels,
)

# IEC 61966-2-1, computed from its two branches
SRGB = [
    (0, 0.000000, 0),
    (0.001, 0.012920, 3),
    (0.0031308, 0.040450, 10),
    (0.01, 0.099853, 25),
    (0.05, 0.247801, 63),
    (0.18, 0.461356, 118),
    (0.22, 0.506386, 129),
    (0.5, 0.735357, 188),
    (0.8, 0.906332, 231),
    (1, 1.000000, 255),
]


@pytest.mark.parametrize(("linear", "encoded", "code"), SRGB)
def test_srgb_matches_the_standard(linear, encoded, code):
    assert srgb_encode(np.array(float(linear))) == pytest.approx(encoded, abs=1e-6)
    assert round(255 * float(srgb_encode(np.array(float(linear))))) == code


@pytest.mark.parametrize(
    ("encoded", "linear"), [(0.5, 0.214041), (0.04045, 0.0031308), (128 / 255, 0.215861)]
)
def test_srgb_decodes(encoded, linear):
    assert srgb_decode(np.array(encoded)) == pytest.approx(linear, abs=1e-6)


def test_the_curve_runs_from_black_to_white_and_never_back():
    x = np.linspace(0, WHITE, 200_001)
    y = curve(x)
    assert (np.diff(y) > 0).all()
    assert y[0] == 0
    assert curve(np.array([WHITE, 2 * WHITE])) == pytest.approx([1, 1], abs=1e-12)
    assert curve(np.array([0.05, KNEE])) == pytest.approx([0.05, KNEE])
    step = 1e-6  # smooth where the shoulder starts
    around = curve(np.array([KNEE - step, KNEE, KNEE + step]))
    assert np.diff(around) == pytest.approx([step, step], rel=1e-4)


@given(st.floats(0, WHITE))
def test_the_curve_is_undone(x):
    assert inverse_curve(curve(np.array(x))) == pytest.approx(x, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("code", [48, 64, 96, 117, 118, 119, 128, 188, 220, 240, 250, 254])
def test_half_a_code_is_under_two_percent_of_luminance(code):
    level = inverse_curve(srgb_decode(np.array([code - 0.5, code, code + 0.5]) / 255))
    assert np.abs(level / level[1] - 1).max() < 0.02


@pytest.mark.parametrize("ev100", [3.0, 8.5])
def test_luminance_reads_back_from_grey_pixels(ev100):
    luminance = np.geomspace(0.0305, 6.5, 4000) * peak_cd_m2(ev100)
    rgb = np.repeat(luminance[None, :, None], 3, axis=2)
    pixels = to_pixels(rgb, ev100, dither=False)
    back = from_pixels(pixels, ev100)
    use = (pixels[..., 0] >= 48) & (pixels[..., 0] <= 254)
    assert use.sum() > 3000
    assert np.abs(back / luminance - 1)[use].max() < 0.02


def test_a_dithered_area_reads_back_its_mean_even_in_the_dark():
    ev100 = 6.0
    for share in (0.002, 0.01, 0.05, 0.3):
        level = share * peak_cd_m2(ev100)
        pixels = to_pixels(np.full((64, 64, 3), level), ev100)
        assert from_pixels(pixels, ev100).mean() == pytest.approx(level, rel=0.02)


def test_dither_is_even_and_the_same_in_bands():
    pattern = dither_pattern(128, 128)
    assert pattern.mean() == pytest.approx(0, abs=2e-3)
    assert np.histogram(pattern, 16, (-0.5, 0.5))[0] == pytest.approx(1024, rel=0.03)
    blocks = pattern.reshape(16, 8, 16, 8).mean(axis=(1, 3))
    assert np.abs(blocks).max() < 0.05  # no clumps
    assert (dither_pattern(28, 128, first_row=100) == pattern[100:]).all()


@pytest.mark.parametrize("scale", [0.02, 0.5, 2.0, 5.0])
def test_a_warm_highlight_keeps_its_luminance_and_its_order_of_colours(scale):
    warm = np.array([1.0, 0.48, 0.15])
    rgb = warm / (warm @ REC709) * scale * peak_cd_m2(8.0)
    shown = display_linear(rgb[None], 8.0)[0]
    assert shown @ REC709 == pytest.approx(curve(np.array(scale)), rel=1e-9)
    assert shown.max() <= 1
    assert shown[0] > shown[1] > shown[2] > 0
    if scale < 0.1:  # below the highlights the ratios are kept
        assert shown / shown[0] == pytest.approx(warm, rel=1e-9)


@pytest.mark.parametrize("warm", [(1.0, 0.48, 0.15), (1.0, 0.62, 0.33), (1.0, 0.35, 0.1)])
def test_a_highlight_fades_to_white_at_its_own_hue(warm):
    # hue in Oklab (B. Ottosson 2020; the matrices from memory, checked on white below)
    to_cone = np.array(
        [
            [0.4122214708, 0.5363325363, 0.0514459929],
            [0.2119034982, 0.6806995451, 0.1073969566],
            [0.0883024619, 0.2817188376, 0.6299787005],
        ]
    )
    to_ab = np.array(
        [[1.9779984951, -2.4285922050, 0.4505937099], [0.0259040371, 0.7827717662, -0.8086757660]]
    )
    assert to_ab @ np.cbrt(to_cone @ np.ones(3)) == pytest.approx([0, 0], abs=1e-6)

    def hue_and_chroma(rgb):
        a, b = to_ab @ np.cbrt(to_cone @ rgb)
        return np.degrees(np.arctan2(b, a)), np.hypot(a, b)

    own, _ = hue_and_chroma(np.array(warm))
    light = np.array(warm) / (warm @ REC709) * peak_cd_m2(8.0)
    for display in (0.6, 0.7, 0.8):
        shown = display_linear(light[None] * inverse_curve(np.array(display)), 8.0)[0]
        hue, chroma = hue_and_chroma(shown)
        assert hue == pytest.approx(own, abs=8.0)
        assert chroma > 0.035
        assert shown @ REC709 == pytest.approx(display, rel=1e-6)
    # and without a step on the way
    scale = np.linspace(0.05, 8.0, 4000)
    shown = display_linear(light * scale[:, None], 8.0)
    assert np.abs(np.diff(shown, axis=0)).max() < 0.01


@pytest.mark.parametrize("colour", [(0.9, 0.05, 0.8), (0.1, 0.2, 1.0), (0.1, 1.0, 0.2), (1, 1, 0)])
def test_any_highlight_stays_on_the_screen_with_its_luminance(colour):
    for scale in (0.3, 1.0, 3.0, 6.0):
        rgb = np.array([colour]) / (colour @ REC709) * scale * peak_cd_m2(8.0)
        shown = display_linear(rgb, 8.0)
        assert 0 <= shown.min() <= shown.max() <= 1
        assert shown[0] @ REC709 == pytest.approx(curve(np.array(scale)), rel=1e-6)


def test_neighbouring_reds_stay_neighbours():
    green = np.linspace(0.2, 0.4, 2001)
    reds = np.stack([np.ones(2001), green, np.full(2001, 0.3)], axis=1)
    shown = display_linear(reds / (reds @ REC709)[:, None] * peak_cd_m2(8.0), 8.0)
    assert np.abs(np.diff(shown, axis=0)).max() < 0.001


def test_a_colour_outside_the_screen_loses_saturation_only():
    rgb = np.array([[0.4, 0.2, -0.05]]) * peak_cd_m2(8.0)
    shown = display_linear(rgb, 8.0)
    assert shown.min() >= 0
    assert (shown @ REC709)[0] == pytest.approx(curve(rgb @ REC709 / peak_cd_m2(8.0))[0])


def test_black_stays_black():
    assert (to_pixels(np.zeros((4, 4, 3)), 8.0) == 0).all()
