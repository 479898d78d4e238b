import numpy as np
import pytest

from rakelight.picture.draw import draw
from rakelight.picture.shade import shade
from rakelight.picture.tone import REC709
from rakelight.picture.white import TO_XYZ, adaptation, balanced, white_of
from rakelight.scene.lit_line import LightGroup
from rakelight.scene.relief import ReflectanceMap
from reference.picture_rooms import box, cosine_line, evenly_lit, facing_main, main_wall

# Planck's law at 3000 K, CIE 1931 observer: x 0.43693, y 0.40408
WARM_XYZ = np.array([0.43693, 0.40408, 1 - 0.43693 - 0.40408]) / 0.40408
WARM_RGB = np.linalg.solve(TO_XYZ, WARM_XYZ)


def test_the_white_becomes_the_screens_white():
    adapted = adaptation(WARM_RGB) @ WARM_RGB
    assert adapted / (adapted @ REC709) == pytest.approx([1, 1, 1], abs=1e-3)
    assert adaptation(np.ones(3)) == pytest.approx(np.eye(3), abs=1e-9)


def test_bradford_values():
    # XYZ (0.5, 0.4, 0.2) seen under 3000 K, by Bradford to D65: computed from the published
    # matrix, XYZ (0.45225, 0.39634, 0.56263), linear sRGB (0.57577, 0.32862, 0.53903)
    seen = adaptation(WARM_RGB) @ np.linalg.solve(TO_XYZ, [0.5, 0.4, 0.2])
    assert TO_XYZ @ seen == pytest.approx([0.45225, 0.39634, 0.56263], abs=4e-4)
    assert seen == pytest.approx([0.57577, 0.32862, 0.53903], abs=6e-4)


def test_luminance_stays_in_every_pixel():
    rng = np.random.default_rng(1)
    encoded = rng.integers(20, 250, (64, 64, 3)).astype(np.uint8)
    room = box(main_wall(reflectance_map=ReflectanceMap(encoded, 1.0, 1.0, 1.0)))
    white = WARM_RGB / (WARM_RGB @ REC709)
    view = draw(room, facing_main(width_px=120, height_px=68), 2)
    picture = shade(view, room, evenly_lit(room, 300.0, white=(tuple(white),)))
    shown = balanced(picture, adaptation(white))
    assert shown.luminance_cd_m2() == pytest.approx(picture.luminance_cd_m2(), rel=1e-4)
    grey = shown.rgb_cd_m2[shown.ids == 1 if (shown.ids == 1).any() else shown.ids == 4]
    assert grey.size
    assert grey.max(axis=1) == pytest.approx(grey.min(axis=1), rel=2e-3)


def test_the_mean_colour_weighs_by_flux():
    line = cosine_line()
    warm, cool = np.array([1.2, 0.97, 0.7]), np.array([0.9, 1.02, 1.1])
    warm, cool = warm / (warm @ REC709), cool / (cool @ REC709)
    groups = [
        LightGroup((line, line), 0.5, 1.0, warm, 3000.0),
        LightGroup((line,), 0.2, 1.0, cool, 6000.0),
    ]
    assert white_of(groups) == pytest.approx((1.0 * warm + 0.2 * cool) / 1.2)
    assert white_of([]) == pytest.approx([1, 1, 1])


def test_part_of_the_way_leaves_part_of_the_colour():
    half = adaptation(WARM_RGB, 0.5) @ WARM_RGB
    full, none = adaptation(WARM_RGB, 1.0) @ WARM_RGB, adaptation(WARM_RGB, 0.0) @ WARM_RGB
    assert none == pytest.approx(WARM_RGB)
    ratio = [c[2] / c[0] for c in (none, half, full)]
    assert ratio[0] < ratio[1] < ratio[2] == pytest.approx(1, abs=1e-3)
