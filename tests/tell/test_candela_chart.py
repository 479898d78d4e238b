import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from rakelight.read.photometry import read_photometry
from rakelight.tell.candela_chart import chart_bytes, draw_candela_curves

SHIPPED = Path(__file__).parents[2] / "shared" / "photometry"


def shipped(*names):
    return [read_photometry(SHIPPED / f"{name}.ies") for name in names]


def curve(figure, panel, k):
    lines = [line for line in figure.axes[panel].lines if len(line.get_xdata()) > 10]
    return np.asarray(lines[k].get_xdata()), np.asarray(lines[k].get_ydata())


def test_curves_are_the_files_candela():
    figure = draw_candela_curves(shipped("graze-narrow", "wash-flat"))
    angle, candela = curve(figure, 0, 0)
    assert angle[candela.argmax()] == pytest.approx(4)
    assert candela.max() == pytest.approx(shipped("graze-narrow")[0].candela.max())
    angle, candela = curve(figure, 1, 0)  # along: a cosine
    nadir = candela[np.abs(angle).argmin()]
    assert np.interp(60, angle, candela) == pytest.approx(nadir / 2, rel=0.01)


def test_light_that_goes_up_is_drawn_from_zenith_on_the_same_side():
    figure = draw_candela_curves(shipped("cove-throw"))
    angle, candela = curve(figure, 0, 0)
    assert angle[candela.argmax()] == pytest.approx(75)  # 15 deg above horizontal, toward C90
    words = [text.get_text() for text in figure.axes[0].texts]
    assert words == ["← C270", "from zenith", "C90 →"]


def test_files_can_be_told_apart_without_colour():
    names = ("wash-flat", "wash-glow", "wash-aimable", "spot-single", "graze-wide")
    figure = draw_candela_curves(shipped(*names))
    drawn = [line for line in figure.axes[0].lines if len(line.get_xdata()) > 10]
    looks = {(line.get_color(), str(line._dash_pattern)) for line in drawn}
    assert len(looks) == len(names)


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_same_bytes_every_time(kind):
    first = chart_bytes(draw_candela_curves(shipped("graze-narrow", "cove-glow")), kind)
    again = chart_bytes(draw_candela_curves(shipped("graze-narrow", "cove-glow")), kind)
    assert first == again
    assert b"<dc:date>" not in first


def test_background_is_clear_and_there_is_ink():
    image = Image.open(io.BytesIO(chart_bytes(draw_candela_curves(shipped("spot-single")), "png")))
    alpha = np.asarray(image)[..., 3]
    assert alpha[0, 0] == 0
    assert 0.01 < (alpha > 128).mean() < 0.3


def test_nothing_to_draw():
    with pytest.raises(ValueError, match="no intensity"):
        draw_candela_curves([])
