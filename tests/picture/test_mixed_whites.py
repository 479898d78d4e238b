"""Runs of two colours are shown as two colours, whatever the picture's white."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.picture.draw import draw
from rakelight.picture.shade import shade
from rakelight.picture.white import DEGREE, adaptation, balanced
from rakelight.scene.lit import Lit
from rakelight.scene.white import white_rgb
from reference.picture_rooms import box, evenly_lit, facing_main


@pytest.mark.parametrize("white_k", [2700.0, 4000.0, None])
def test_mixed_temperatures_stay_mixed(white_k):
    room = box()
    even = evenly_lit(room, 400.0, (1.0, 1.0))
    left = np.zeros_like(even.direct_lx["main"])
    half = left.shape[2] // 2
    left[0, :, :half] = 400.0  # 2700 K on the left half of the wall
    left[1, :, half:] = 400.0  # 5000 K on its right half
    whites = np.stack([white_rgb(2700.0), white_rgb(5000.0)])
    lit = replace(Lit({**even.direct_lx, "main": left}, {}, {}, even.other_lx, even.output, whites))
    view = draw(room, facing_main(width_px=160, height_px=90), 2)
    picture = shade(view, room, lit)
    mean = whites.mean(axis=0)
    degree = float(DEGREE) if white_k is None else 1.0
    shown = balanced(picture, adaptation(mean if white_k is None else white_rgb(white_k), degree))
    warm, cool = shown.rgb_cd_m2[45, 40], shown.rgb_cd_m2[45, 120]
    assert warm[0] / warm[2] > 1.8 * cool[0] / cool[2]
    luma = [0.2126, 0.7152, 0.0722]
    assert warm @ luma == pytest.approx(0.5 * 400 / np.pi, rel=1e-3)
    assert cool @ luma == pytest.approx(0.5 * 400 / np.pi, rel=1e-3)
    if white_k == 2700.0:
        assert warm / warm[1] == pytest.approx([1, 1, 1], abs=3e-3)
