"""What a body hides: light that comes from behind a place is not counted as hidden from it."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light import bounce_parts
from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from reference.path_tracer import PathTracer
from reference.plain_rooms import NAMES, block, box_room, even_lit, prepared

W, D, H = 1.2, 0.26, 0.18
QUALITY = BounceQuality()


def slot(kind="housing"):
    """A closed slot 260 mm wide and 180 high, a housing just below its lid, as they are built."""
    body = block((0.1, 0.06, H - 0.0705), (W - 0.1, 0.12, H - 0.0005), 0.35)
    rho = dict.fromkeys(NAMES, 0.8) | {"floor": 0.1}
    return box_room(W, D, H, rho, step=0.01, bodies=[replace(body, kind=kind)])


def cheek_light(height):
    """Light on the cheek before the housing, as a run leaves it: low down, none above. [lx]"""
    return 500 * np.clip(1 - height / 0.11, 0, 1)


@pytest.mark.parametrize("kind", ["housing", "blocker"])
def test_all_that_a_housing_sees_sums_to_one_before_it_is_scaled(kind, monkeypatch):
    # in a slot where no gap is closed: rays to what lies behind a face once hid 3 % of its view
    body = block((0.3, 0.1, 0.05), (W - 0.3, 0.16, 0.11), 0.35)
    room = box_room(W, D, H, 0.5, step=0.02, bodies=[replace(body, kind=kind)])
    sums = []
    exchange_factors = bounce_parts.exchange_factors

    def noted(flow_m2, patches, surfaces):
        own = patches.owner >= surfaces
        area = patches.areas_m2[own]
        sums.append(flow_m2[own].sum(axis=1, dtype=np.float64) / area)
        return exchange_factors(flow_m2, patches, surfaces)

    monkeypatch.setattr(bounce_parts, "exchange_factors", noted)
    prepare_bounce(prepared(room), QUALITY)
    assert np.mean(sums[0]) == pytest.approx(1, abs=0.01)
    assert np.sqrt(np.mean((sums[0] - 1) ** 2)) < 0.03


def test_faces_of_a_slot_with_a_housing_agree_with_traced_paths():
    room = slot()
    lit = even_lit(room, dict.fromkeys(NAMES, 0.0))
    front = room.surface("opposite")
    rows = cheek_light(front.grid.v_m())
    field = np.repeat(rows[:, None], front.grid.columns, axis=1)[None].astype(np.float32)
    lit = replace(lit, direct_lx={**lit.direct_lx, "opposite": field})
    out, _ = bounce(prepare_bounce(prepared(room), QUALITY), lit)

    def light_of(points, normals, owners):
        return np.where(owners == NAMES.index("opposite"), cheek_light(points[:, 2]), 0.0)

    tracer = PathTracer(room, room.bodies, light_of)
    rng = np.random.default_rng(2)
    # without any of it: main -8.5 %, floor -5 %, and the lid behind the housing +20 %
    for name, within in (("main", 0.03), ("floor", 0.04), ("ceiling", 0.09)):
        own = np.flatnonzero(tracer.owner == NAMES.index(name))
        traced, error = tracer.mean_over(own, 60_000, rng)
        assert error < 0.015 * traced
        light = out.bounced_lx[name]
        light = (light[1:] + light[:-1])[:, 1:] + (light[1:] + light[:-1])[:, :-1]
        assert light.mean() / 4 == pytest.approx(traced, rel=within), name
