import itertools

import numpy as np
import pytest

from rakelight.picture.draw import draw
from rakelight.picture.false_colour import (
    NO_VALUE,
    Scale,
    bar,
    colours,
    illuminance_lx,
    isolines,
    scale_of,
)
from rakelight.picture.tone import REC709, srgb_decode
from rakelight.scene.lit import Lit
from reference.picture_rooms import box, evenly_lit, facing_main, with_opening


def test_illuminance_is_what_the_vertices_carry():
    room = box()
    grid = room.surfaces[0].grid
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    ramp = (100 + 50 * u + 30 * v).astype(np.float32)
    lit = evenly_lit(room)
    lit = Lit(
        {**lit.direct_lx, "main": ramp[None]}, {}, {}, lit.other_lx, lit.output, lit.white_rgb
    )
    camera = facing_main(width_px=160, height_px=90)
    view = draw(room, camera, 2)
    found = illuminance_lx(view, room, lit)
    x, y = np.arange(160) + 0.5, np.arange(90) + 0.5
    wall_u = 2.4 + (x - 80) * 36 / 160 / 18 * 3.3
    wall_v = 1.6 - (y - 45) * 36 / 160 / 18 * 3.3
    expected = 100 + 50 * wall_u + 30 * wall_v[:, None]
    inside = (view.ids[::2, ::2] == 0) & ~np.isin(np.arange(160 * 90), view.edges).reshape(90, 160)
    assert found[inside] == pytest.approx(expected[inside], rel=1e-4)


def test_what_carries_no_light_has_no_colour():
    room = with_opening(0.2)
    view = draw(room, facing_main(width_px=160, height_px=90), 2)
    found = illuminance_lx(view, room, evenly_lit(room))
    bodies = view.ids[::2, ::2] >= len(room.surfaces)
    assert np.isnan(found[bodies]).all()
    assert not np.isnan(found[~bodies]).any()
    codes = colours(found, Scale(1.0, 1000.0, True))
    assert (codes[bodies] == NO_VALUE).all()


def test_colours_rise_evenly_in_grey():
    # CIE lightness of the bar: monotone, and no step more than twice the mean one
    luminance = srgb_decode(bar(Scale(0, 1, False), 64, 1)[0] / 255) @ REC709
    lightness = np.where(
        luminance > 216 / 24389, 116 * np.cbrt(luminance) - 16, luminance * 24389 / 27
    )
    steps = np.diff(lightness)
    assert (steps > 0).all()
    assert steps.max() < 2 * steps.mean()


def test_scales_place_values():
    log = Scale(10.0, 1000.0, True)
    assert log.share(np.array([10, 100, 1000, 1, 5000])) == pytest.approx([0, 0.5, 1, 0, 1])
    assert log.marks() == pytest.approx([10, 20, 50, 100, 200, 500, 1000])
    linear = Scale(0.0, 600.0, False)
    assert linear.share(np.array([150.0])) == pytest.approx([0.25])
    assert linear.marks() == pytest.approx([0, 100, 200, 300, 400, 500, 600])
    # in foot-candles the marks are round foot-candles: 1 fc = 10.7639 lx
    assert linear.marks(10.76391) == pytest.approx([0, 10, 20, 30, 40, 50])


@pytest.mark.parametrize("ends", [(5, 5), (-1, 5), (0, float("nan"))])
def test_a_scale_without_extent_is_refused(ends):
    with pytest.raises(ValueError, match="low < high"):
        Scale(*ends, False)
    with pytest.raises(ValueError, match="logarithmic"):
        Scale(0.0, 5.0, True)


@pytest.mark.parametrize("logarithmic", [True, False])
def test_one_scale_for_all_whatever_their_order(logarithmic):
    rng = np.random.default_rng(2)
    pictures = [rng.lognormal(3 + k, 1, (20, 30)) for k in range(3)]
    pictures[0][0, 0] = np.nan
    found = {scale_of(p, logarithmic=logarithmic) for p in itertools.permutations(pictures)}
    assert len(found) == 1
    dark = scale_of([np.zeros((3, 3))], logarithmic=logarithmic)
    assert dark.high_lx > dark.low_lx


def test_isolines_run_where_the_level_is():
    field = np.geomspace(10, 1000, 201)[None, :] * np.ones((40, 1))
    codes = np.full((40, 201, 3), 30, np.uint8)
    drawn = isolines(codes, field, [100.0])
    middle = drawn[20, :, 0].astype(int) - 30
    assert np.average(np.arange(201), weights=middle) == pytest.approx(100, abs=0.05)
    assert (np.flatnonzero(middle) >= 98).all()
    assert (np.flatnonzero(middle) <= 102).all()
    assert (codes == 30).all()
