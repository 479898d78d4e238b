"""Reflected light and what the room is cut by: boards that part it, recesses, moving housings."""

import dataclasses

import numpy as np
import pytest

from rakelight.light import bounce_parts
from rakelight.light.bounce import BounceQuality, bounce, moved_bounce, prepare_bounce
from rakelight.light.prepare import moved, prepare
from rakelight.scene.quality import Quality
from rakelight.scene.surfaces import Room
from reference.mountings import X, Y, Z, rectangle
from reference.plain_rooms import block, box_room, even_lit, mean, prepared, waves

SMALL = BounceQuality(edge_m=0.06, patch_m=0.2, point_edge_m=0.03, point_m=0.2)
W, D, H = 1.6, 1.2, 1.0
#: A board across the room, from floor to ceiling, thinner than a vertex step.
LOW, HIGH = 0.900, 0.915


def with_holes(surface, *holes):
    made = tuple(np.array([[a, c], [b, c], [b, d], [a, d]], float) for a, b, c, d in holes)
    return dataclasses.replace(surface, holes_uv_m=made)


def parted_room(rho=0.7, step=0.02):
    """A box cut in two by a board that the shell has holes for, as built boards have."""
    room = box_room(W, D, H, rho, step=step)
    holes = {
        "floor": (0, W, LOW, HIGH),
        "ceiling": (0, W, D - HIGH, D - LOW),
        "left": (LOW, HIGH, 0, H),
        "right": (D - HIGH, D - LOW, 0, H),
    }
    shell = [with_holes(s, holes[s.name]) if s.name in holes else s for s in room.surfaces]
    board = (
        rectangle("front", (0, LOW, 0), X, Z, (W, H), step),
        rectangle("back", (W, HIGH, 0), -X, Z, (W, H), step),
    )
    return Room((*shell, *board), ())


def test_no_light_passes_a_board_into_a_closed_compartment():
    room = parted_room()
    # direct light behind the board alone, as a cove has it, up to the board's edge
    lit = even_lit(room, {"main": 500.0})
    for name, axis in (("floor", "v"), ("ceiling", "v"), ("left", "u"), ("right", "u")):
        grid = room.surface(name).grid
        at = grid.v_m()[:, None] if axis == "v" else grid.u_m()[None]
        behind = at > HIGH if name in ("floor", "left") else at < D - HIGH
        lit.direct_lx[name][0] = np.where(behind, 800.0, 0.0)
    out, balance = bounce(prepare_bounce(prepared(room), SMALL), lit)
    assert out.bounced_lx["main"].min() > 100
    assert out.bounced_lx["opposite"].max() == 0
    assert out.bounced_lx["front"].max() == 0
    for name in ("floor", "ceiling", "left", "right"):
        surface = room.surface(name)
        u, v = np.meshgrid(surface.grid.u_m(), surface.grid.v_m())
        depth = v if name == "floor" else D - v if name == "ceiling" else u
        depth = D - u if name == "right" else depth
        assert out.bounced_lx[name][depth < LOW].max() == 0, name
    assert abs(balance.error) < 0.005


def niche_room(depth=0.3, rho=0.6, step=0.05):
    """A box with a niche in its opposite wall."""
    room = box_room(W, D, H, rho, step=step)
    low, high, foot, top = 0.5, 1.1, 0.2, 0.8
    shell = [
        with_holes(s, (W - high, W - low, foot, top)) if s.name == "opposite" else s
        for s in room.surfaces
    ]
    inner = (
        rectangle("niche foot", (low, -depth, foot), X, Y, (high - low, depth), step),
        rectangle("niche head", (low, 0, top), X, -Y, (high - low, depth), step),
        rectangle("niche left", (low, -depth, foot), Y, Z, (depth, top - foot), step),
        rectangle("niche right", (high, 0, foot), -Y, Z, (depth, top - foot), step),
        rectangle("niche back", (high, -depth, foot), -X, Z, (high - low, top - foot), step),
    )
    finish = np.full(3, rho)
    return Room((*shell, *(dataclasses.replace(s, reflectance_rgb=finish) for s in inner)), ())


def test_a_niche_takes_part_in_a_furnace():
    # every surface gives out M0 (1 - rho) by itself: then E = M0 all over, in the niche too
    room = niche_room()
    ready = prepare_bounce(prepared(room), SMALL)
    assert ready.closed
    lit = even_lit(room, {s.name: 1000 * 0.4 / 0.6 for s in room.surfaces})
    out, balance = bounce(ready, lit)
    for surface in room.surfaces:
        inside = out.bounced_lx[surface.name]
        if surface.name == "opposite":
            hole = surface.holes_uv_m[0]
            u, v = np.meshgrid(surface.grid.u_m(), surface.grid.v_m())
            low, high = hole.min(axis=0), hole.max(axis=0)
            gone = (u > low[0]) & (u < high[0]) & (v > low[1]) & (v < high[1])
            inside = inside[~gone]
        assert inside.mean() == pytest.approx(1000, rel=0.005), surface.name
    assert abs(balance.error) < 0.005


def test_a_niche_is_lit_by_the_wall_it_faces_and_is_no_wall():
    room = niche_room(rho=0.5)
    # first reflection alone: the niche's back sees the lit main wall through the hole
    black = [
        s if s.name == "main" else dataclasses.replace(s, reflectance_rgb=np.zeros(3))
        for s in room.surfaces
    ]
    room = Room(tuple(black), ())
    out, _ = bounce(prepare_bounce(prepared(room), SMALL), even_lit(room, {"main": 1000}))
    back = room.surface("niche back")
    found = out.bounced_lx["niche back"][back.grid.rows // 2, back.grid.columns // 2]
    # the part of the main wall that the middle of the back sees through the hole: by the
    # polygon formula, all of its width and height that the rays through the rim reach
    from rakelight.light.form_factors import point_to_polygon

    reach = (0.3 + D) / 0.3
    half_x, half_z = 0.3 * reach, 0.3 * reach
    x0, x1 = max(0, 0.8 - half_x), min(W, 0.8 + half_x)
    z0, z1 = max(0, 0.5 - half_z), min(H, 0.5 + half_z)
    seen = np.array([[x1, D, z0], [x0, D, z0], [x0, D, z1], [x1, D, z1]])[::-1]
    expected = 500 * point_to_polygon((0.8, -0.3, 0.5), Y, seen)
    assert found == pytest.approx(expected, rel=0.03)


def stone_room(setback, rho=0.5):
    heights = waves(101, 161, W, H, 0.03, 0.2)
    low = (0.0, D - setback - 0.04, H - 0.1)
    housing = dataclasses.replace(
        block(low, (W, D - setback, H - 0.05), 0.35), name="housing", kind="housing"
    )
    column = block((1.2, 0.3, 0.0), (1.3, 0.4, H), 0.4)
    return box_room(W, D, H, rho, step=0.05, heights=heights, bodies=(column, housing))


def test_a_moved_housing_gives_what_a_fresh_start_gives(monkeypatch):
    first = prepare(stone_room(0.1), Quality())
    ready = prepare_bounce(first, SMALL)
    after = stone_room(0.35)
    fresh = prepare_bounce(prepare(after, Quality()), SMALL)
    monkeypatch.setattr(bounce_parts, "_room_part", lambda *_: pytest.fail("room again"))
    found = moved_bounce(ready, moved(first, after))
    np.testing.assert_array_equal(found.factors, fresh.factors)
    lit = even_lit(after, {"main": 500, "floor": 100})
    a, _ = bounce(found, lit)
    b, balance = bounce(fresh, lit)
    still, _ = bounce(ready, lit)
    for name, lx in b.bounced_lx.items():
        np.testing.assert_array_equal(a.bounced_lx[name], lx)
    # and the housing counts: where it hung there is more light now
    before, now = still.bounced_lx["ceiling"], a.bounced_lx["ceiling"]
    assert np.abs(now / before - 1).max() > 0.02
    assert abs(balance.error) < 0.005


def test_a_moved_column_is_not_overlooked():
    first = prepare(stone_room(0.1), Quality())
    ready = prepare_bounce(first, SMALL)
    after = stone_room(0.1)
    column = block((0.3, 0.3, 0.0), (0.4, 0.4, H), 0.4)
    after = Room(after.surfaces, (), (column, after.bodies[1]))
    found = moved_bounce(ready, moved(first, after))
    fresh = prepare_bounce(prepare(after, Quality()), SMALL)
    np.testing.assert_array_equal(found.factors, fresh.factors)
    assert found.walls["main"].hollows is ready.walls["main"].hollows
    main = after.surface("main")
    lit = even_lit(after, {"floor": 300})
    a, b = bounce(found, lit)[0], bounce(fresh, lit)[0]
    assert mean(main, a.bounced_lx["main"]) == mean(main, b.bounced_lx["main"])
