"""What stands out of a wall, or lies behind its mean plane, sees its neighbours from there."""

from dataclasses import replace

import numpy as np

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.openness import around_rad
from rakelight.light.outlook import MOST_MOVED, nearness
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


def test_how_near_a_point_s_neighbours_are():
    room, _ = terraced_room()
    main = room.surface("main")
    ready = prepare_bounce(prepared(room), FINE)
    points = ready.gathers[[s.name for s in room.surfaces].index("main")].grid.points_m
    near = nearness(ready.outlooks["main"], main)
    inner = (abs(points[:, 0] - 1.6) < 1.3) & (abs(points[:, 2] - 0.6) < 0.5)
    turn = around_rad()
    for way, away_m in ((0, 1.2 - points[:, 2]), (np.pi, points[:, 2])):
        beside = np.argsort(abs((turn - way + np.pi) % (2 * np.pi) - np.pi))[:2]
        found = near[inner][:, beside].mean(axis=1)
        # over an azimuth's 18 deg beside straight up or down, 1/d is 0.976 of that at its end
        close = away_m[inner] < 0.5
        np.testing.assert_allclose((found * away_m[inner])[close], 0.976, atol=0.02)
        # from further away, high rays meet the far wall first
        assert (found * away_m[inner] > 0.96).all()
        assert (found * away_m[inner] < 1.1).all()
    # in a corner, no more than that
    assert near.max() <= MOST_MOVED / HIGH_M * 1.001
