"""What stands out of a wall, or lies behind its mean plane, sees its neighbours from there."""

from dataclasses import replace

import numpy as np

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from reference.plain_rooms import NAMES, box_room, even_lit, prepared

HIGH_M = 0.012
#: A band of the ceiling that is lit, from the wall's mean plane. [m]
BAND_M = (0.05, 0.15)
FINE = BounceQuality(edge_m=0.02, patch_m=0.2, point_edge_m=0.01, point_m=0.1)


def terraced_room():
    """A wall of two flat halves, one before its mean plane and one behind, under a lit band."""
    rho = dict.fromkeys(NAMES, 1e-4) | {"ceiling": 0.5}
    u = np.linspace(0, 3.2, 321)
    heights = np.broadcast_to(HIGH_M * np.tanh((1.6 - u) / 0.02), (121, 321))
    room = box_room(3.2, 1.0, 1.2, rho, step=0.005, heights=heights)
    lit = even_lit(room, {"ceiling": 1.0})
    grid = room.surface("ceiling").grid
    away = grid.v_m()  # its rows run from the wall
    field = np.where((away > BAND_M[0]) & (away < BAND_M[1]), 1000.0, 0.0)
    field = np.repeat(field[:, None], grid.columns, axis=1)[None].astype(np.float32)
    return room, replace(lit, direct_lx={**lit.direct_lx, "ceiling": field})


def band_lx(below_m, height_m):
    """Illuminance by an endless band at right angles to the wall: 1/2 the difference of sines.

    The angles are those of its edges, from the wall's normal (Hottel's crossed strings).
    """
    low, high = (edge - height_m for edge in BAND_M)
    return 250 * (below_m / np.hypot(below_m, low) - below_m / np.hypot(below_m, high))


def halves():
    """What the fore and the rear half receive at three heights, over what they should."""
    room, lit = terraced_room()
    out, _ = bounce(prepare_bounce(prepared(room), FINE), lit)
    main = room.surface("main")
    rows = [main.grid.rows - 1 - round(below / main.grid.step_v_m) for below in (0.3, 0.4, 0.5)]
    found = out.bounced_lx["main"][rows]
    below = 1.2 - main.grid.v_m()[rows]
    fore, rear = found[:, 78:83].mean(axis=1), found[:, 238:243].mean(axis=1)
    return fore / rear, band_lx(below, HIGH_M) / band_lx(below, -HIGH_M)


def test_stone_that_stands_out_sees_a_bright_band_beside_it_under_a_flatter_angle():
    found, expected = halves()
    assert (expected < 0.86).all()  # so much for 12 mm either way
    # the band is 3.2 m long, not endless
    np.testing.assert_allclose(found, expected, rtol=0.04)


def test_a_nearly_flat_relief_has_its_points_on_its_mean_plane_alone():
    room, _ = terraced_room()
    main = room.surface("main")
    flat = replace(main.relief, heights_m=main.relief.heights_m * np.float32(0.01))
    surfaces = tuple(replace(s, relief=flat) if s is main else s for s in room.surfaces)
    assert "main" in prepare_bounce(prepared(room), FINE).raised
    level = prepare_bounce(prepared(replace(room, surfaces=surfaces)), FINE)
    assert not level.raised
