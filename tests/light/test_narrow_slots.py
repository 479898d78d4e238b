"""Where light goes in the slot between a raft with housings on it and the ceiling."""

from dataclasses import replace

import numpy as np

from rakelight.light.bounce import bounce, prepare_bounce
from rakelight.scene.frame import Frame
from reference.plain_rooms import X, Y, Z, block, box_room, even_lit, plain_surface, prepared

W, D, H = 3.2, 2.4, 1.2
LOW, TOP = 0.9, 0.94
U0, V0, U1, V1 = 0.3, 0.45, 2.9, 1.95


def raft():
    """The six faces of a slab 40 mm thick."""
    long, short, thick = U1 - U0, V1 - V0, TOP - LOW
    faces = {
        "top": ((U0, V0, TOP), X, Y, long, short),
        "underside": ((U0, V1, LOW), X, -Y, long, short),
        "edge 1": ((U0, V0, LOW), X, Z, long, thick),
        "edge 2": ((U1, V1, LOW), -X, Z, long, thick),
        "edge 3": ((U0, V1, LOW), -Y, Z, short, thick),
        "edge 4": ((U1, V0, LOW), Y, Z, short, thick),
    }
    return [
        plain_surface(name, Frame(np.array(at), u, v, np.cross(u, v)), w, h, 0.6, 0.02)
        for name, (at, u, v, w, h) in faces.items()
    ]


def test_half_a_percent_at_most_is_lost_above_a_raft():
    housings = [
        replace(
            block((U0 + 0.05, a, TOP), (U1 - 0.05, a + 0.06, TOP + 0.05), 0.3),
            kind="housing",
        )
        for a in (V0 + 0.06, V1 - 0.12)
    ]
    room = box_room(W, D, H, 0.4, step=0.04, bodies=housings)
    room = replace(room, surfaces=(*room.surfaces, *raft()))
    lit = even_lit(room, {})
    grid = room.surface("ceiling").grid
    across = np.linspace(D, 0, grid.rows)
    field = sum(2000 * np.exp(-(((across - y) / 0.5) ** 2)) for y in (V0, V1))
    field = np.repeat(field[:, None], grid.columns, axis=1)[None].astype(np.float32)
    lit = replace(lit, direct_lx={**lit.direct_lx, "ceiling": field})
    _, balance = bounce(prepare_bounce(prepared(room)), lit)
    assert abs(balance.error) < 0.005
