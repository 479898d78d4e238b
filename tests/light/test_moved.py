"""A room whose runs alone move: what is kept must be what a fresh start computes."""

import numpy as np
import pytest

from rakelight.light import prepare as module
from rakelight.light.direct import direct
from rakelight.light.prepare import moved, prepare
from rakelight.scene.quality import Quality
from reference.grazed_walls import ledgestone, room, run, wall

QUALITY = Quality(azimuths=12)
HEIGHTS = ledgestone(121, 161, 0.01)


def stone(depth=1.0):
    return wall(1.6, 1.2, 0.01, HEIGHTS * depth)


def check_equal(found, fresh):
    for name, ready in fresh.reliefs.items():
        own = found.reliefs[name]
        np.testing.assert_array_equal(own.normals, ready.normals)
        np.testing.assert_array_equal(own.moments, ready.moments)
        assert set(ready.sides) <= set(own.sides)
        for side, turned in ready.sides.items():
            np.testing.assert_array_equal(own.sides[side].horizons, turned.horizons)
    a, b = direct(found), direct(fresh)
    np.testing.assert_array_equal(a.direct_lx["main"], b.direct_lx["main"])
    np.testing.assert_array_equal(a.flat_lx["main"], b.flat_lx["main"])


def test_a_run_that_moves_out_finds_its_wall_ready(monkeypatch):
    before = prepare(room(stone(), run(0.2, ((0.0, 1.6),), top_m=1.25)), QUALITY)
    # the same values in new arrays, as a scene that is read again has them
    after = room(stone(), run(0.5, ((0.0, 1.6),), top_m=1.25, tilt_rad=0.2))
    fresh = prepare(after, QUALITY)
    monkeypatch.setattr(module, "turned_relief", lambda *_: pytest.fail("horizons again"))
    found = moved(before, after)
    assert found.room is after
    check_equal(found, fresh)


def test_a_run_that_moves_to_another_side_gets_its_horizons():
    before = prepare(room(stone(), run(0.2, ((0.0, 1.6),), top_m=1.25)), QUALITY)
    after = room(stone(), run(0.2, ((0.0, 1.6),), top_m=-0.05, tilt_rad=np.pi))
    found = moved(before, after)
    assert set(found.reliefs["main"].sides) == {"up", "down"}
    check_equal(found, prepare(after, QUALITY))
    # and keeps those that it had, for the way back
    assert moved(found, before.room).reliefs["main"].sides.keys() == {"up", "down"}


def test_openness_is_the_same_whichever_horizons_are_known():
    above = prepare(room(stone(), run(0.2, ((0.0, 1.6),), top_m=1.25)), Quality())
    none = prepare(room(stone()), Quality())
    assert not none.reliefs["main"].sides
    np.testing.assert_array_equal(above.reliefs["main"].moments, none.reliefs["main"].moments)


def test_another_relief_is_refused():
    before = prepare(room(stone(), run(0.2, ((0.0, 1.6),), top_m=1.25)), QUALITY)
    with pytest.raises(ValueError, match="main"):
        moved(before, room(stone(0.9), run(0.3, ((0.0, 1.6),), top_m=1.25)))
