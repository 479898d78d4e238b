"""A relief beside a small, very bright place on the next wall, as where a run meets it."""

from dataclasses import replace

import numpy as np

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.points import point_grid
from reference.plain_rooms import NAMES, box_room, even_lit, prepared, waves

WARM, PLAIN = (0.5, 0.25, 0.1), (0.5, 0.5, 0.5)
QUALITY = BounceQuality(edge_m=0.06, patch_m=0.3, point_edge_m=0.03, point_m=0.2)


def corner_room():
    """A spot of 60 mm on a plain side wall, 2 % as bright all over; warm ceiling, little else."""
    rho = dict.fromkeys(NAMES, (1e-4,) * 3) | {"left": PLAIN, "ceiling": WARM, "main": WARM}
    heights = waves(151, 241, 2.4, 1.5, 0.04, 0.1)
    room = box_room(2.4, 1.5, 1.5, rho, step=0.02, heights=heights)
    lit = even_lit(room, {"ceiling": 30.0})
    side = room.surface("left")
    grid = side.grid
    u, v = np.meshgrid(grid.u_m(), grid.v_m())
    room_m = side.frame.to_room(np.stack([u, v, 0 * u], axis=-1).reshape(-1, 3))
    main = room.surface("main").frame.from_room(room_m)
    away = np.hypot(main[:, 2] - 0.05, main[:, 1] - 1.42).reshape(u.shape)
    field = 40_000 * np.exp(-((away / 0.03) ** 2)) + 100
    direct = {**lit.direct_lx, "left": field[None].astype(np.float32)}
    return room, replace(lit, direct_lx=direct)


def test_no_vertex_goes_dark_or_takes_a_colour_of_its_own():
    room, lit = corner_room()
    ready = prepare_bounce(prepared(room), QUALITY)
    out, _ = bounce(ready, lit)
    light = out.bounced_lx["main"]
    openness = ready.walls["main"].moments[0]
    plane = out.flat_bounced_lx["main"]
    assert light.min() > 0
    luminous = light @ (0.2126, 0.7152, 0.0722)  # IEC 61966-2-1
    assert (luminous > 0.02 * openness * plane).all()
    # all direct light is white, on plain surfaces and on warm ones; on its way here it has met
    # three warm ones at the most, but for a little
    for band, share in ((1, 0.25 / 0.5), (2, 0.1 / 0.5)):
        ratio = light[..., band] / light[..., 0]
        assert ratio.max() < 1.001
        assert ratio.min() > 0.999 * share**3


def test_light_between_points_does_not_swing_below_both():
    room = box_room(2.4, 1.5, 1.5, dict.fromkeys(NAMES, 0.5), step=0.02)
    grid = point_grid(room.surface("left"), 0, (), 0.04, 0.3)
    field = np.ones((grid.v_m.size, grid.u_m.size, 1), np.float32)
    field[2, 2] = 1000.0
    out = grid.to_vertices(field)
    assert out.min() >= 0.9**2 - 1e-6  # along u, then along v
    assert out.max() > 500
