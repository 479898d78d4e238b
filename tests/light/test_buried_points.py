"""Where a body lies against a surface: what it covers says nothing of what is beside it."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.bounce_parts import moved_bounce
from rakelight.light.buried import find_buried
from rakelight.light.points import point_grid
from rakelight.scene.surfaces import Room
from reference.plain_rooms import (
    NAMES,
    block,
    box_frames,
    box_room,
    even_lit,
    mean,
    plain_surface,
    prepared,
)

W, D, H = 2.0, 1.6, 1.4
QUALITY = BounceQuality()
#: How much what is found on a side wall may differ from what must be, over the wall's mean.
SPARE = 0.05


def housing_room(kind):
    """From wall to wall, 34 x 48 mm, 100 mm before the main wall and just below the ceiling."""
    body = block((0.0, D - 0.117, H - 0.060), (W, D - 0.083, H - 0.012), 0.0)
    return box_room(W, D, H, 0.5, step=0.02, bodies=[replace(body, kind=kind)])


def grazed(room):
    """The top of the main wall as bright as a close run makes it, and where it meets the sides."""
    lit = even_lit(room, dict.fromkeys(NAMES, 20.0))
    direct = dict(lit.direct_lx)
    for name, most in (("main", 5_000), ("left", 10_000), ("right", 10_000)):
        grid, frame = room.surface(name).grid, room.surface(name).frame
        u, v = np.meshgrid(grid.u_m(), grid.v_m())
        y, z = frame.to_room(np.stack([u, v, 0 * u], axis=-1).reshape(-1, 3)).T[1:]
        away = np.hypot(z - H, 0 if name == "main" else y - D + 0.1)
        field = 100 + most * np.exp(-((away / 0.1) ** 2))
        direct[name] = field.reshape(1, *u.shape).astype(np.float32)
    return replace(lit, direct_lx=direct)


@pytest.mark.parametrize("kind", ["housing", "blocker"])
def test_a_black_housing_makes_no_light_on_the_walls_that_it_runs_between(kind):
    room = housing_room(kind)
    bare = replace(room, bodies=())
    lit = grazed(room)
    ready = prepare_bounce(prepared(room), QUALITY)
    assert ready.closed
    out, _ = bounce(ready, lit)
    without, _ = bounce(prepare_bounce(prepared(bare), QUALITY), lit)
    # both side walls, seen from the main wall's end
    left, right = out.bounced_lx["left"], out.bounced_lx["right"][:, ::-1]
    spare = SPARE * float(left.mean())
    np.testing.assert_allclose(left, right, rtol=0.02, atol=spare)
    # what is black only takes away
    assert (left < without.bounced_lx["left"] + spare).all()
    assert (right < without.bounced_lx["right"][:, ::-1] + spare).all()


def test_points_behind_a_housing_see_what_those_beside_it_see():
    room = housing_room("housing")
    ready = prepare_bounce(prepared(room), QUALITY)
    gather = ready.gathers[NAMES.index("left")]
    assert gather.buried is not None
    assert gather.buried.points.size
    place = room.surface("left").frame.from_room(gather.grid.points_m)
    low, high = room.bodies[0].points_m.min(axis=0), room.bodies[0].points_m.max(axis=0)
    inside = (place[:, :2] > low[1:]).all(axis=1) & (place[:, :2] < high[1:]).all(axis=1)
    np.testing.assert_array_equal(gather.buried.points, np.flatnonzero(inside))
    np.testing.assert_allclose(gather.factors.sum(axis=1), 1, rtol=1e-4)
    for point in gather.buried.points:
        beside = gather.buried.pairs[gather.buried.pairs[:, 0] == point, 1]
        low_f, high_f = gather.factors[beside].min(axis=0), gather.factors[beside].max(axis=0)
        assert (gather.factors[point] >= low_f - 1e-6).all()
        assert (gather.factors[point] <= high_f + 1e-6).all()
        # and near by as far away: parts of a patch add up to it
        own = gather.near[:, 0] == point
        parent = ready.subs.parent[gather.near[own, 1]]
        parts = np.bincount(parent, gather.near_factors[own], ready.patches.count)
        some = np.unique(parent)
        np.testing.assert_allclose(parts[some], gather.factors[point, some], rtol=0.02, atol=1e-4)
    # a patch is there once, all its parts in order
    first = gather.near[::16]
    assert len(np.unique(first, axis=0)) == len(first)


def test_a_housing_that_moves_away_uncovers_them():
    room = housing_room("housing")
    before = prepare_bounce(prepared(room), QUALITY)
    moved = moved_bounce(before, prepared(replace(room, bodies=())))
    gather = moved.gathers[NAMES.index("left")]
    assert gather.buried is None
    back = moved_bounce(moved, prepared(room)).gathers[NAMES.index("left")]
    np.testing.assert_array_equal(back.factors, before.gathers[NAMES.index("left")].factors)
    np.testing.assert_array_equal(back.near, before.gathers[NAMES.index("left")].near)


def test_neighbours_are_found_along_rows_and_columns_but_not_across_a_hole():
    frame, width, height = box_frames(W, D, H)["floor"]
    floor = plain_surface("floor", frame, width, height, 0.5)
    hole = np.array([[0.9, 0.0], [0.9, D], [1.1, D], [1.1, 0.0]])
    cut = replace(floor, holes_uv_m=(hole,))
    grid = point_grid(cut, 0, (), 0.1, 0.5)
    place = cut.frame.from_room(grid.points_m)
    sums = np.ones(len(place))
    # all columns of points left of the hole but the outermost
    sums[(place[:, 0] > 0.05) & (place[:, 0] < 0.91)] = 1e-5
    found = find_buried(grid, sums)
    assert found is not None
    assert (place[found.pairs[:, 1], 0] < 0.05).all()
    assert set(found.pairs[:, 0]) == set(found.points)
    np.testing.assert_allclose(np.bincount(found.pairs[:, 0], found.share)[found.points], 1)
    # covered all over: nobody stands in
    none = find_buried(grid, np.zeros(len(place)))
    assert none is not None
    assert not len(none.pairs)


def test_a_surface_that_a_body_covers_all_over_stays_dark():
    room = box_room(W, D, H, 0.5, step=0.05)
    frame = box_frames(0.4, 0.4, 0.4)["floor"][0]
    shelf = plain_surface(
        "shelf", replace(frame, origin_m=np.array([0.8, 0.6, 0.5])), 0.4, 0.4, 0.5
    )
    body = block((0.8, 0.6, 0.5), (1.2, 1.0, 0.9), 0.5)
    room = Room((*room.surfaces, shelf), (), (body,))
    out, _ = bounce(prepare_bounce(prepared(room), QUALITY), grazed(room))
    assert out.bounced_lx["shelf"].max() == 0


def test_points_receive_all_the_light_of_a_patch_that_a_housing_half_covers():
    room = housing_room("housing")
    ready = prepare_bounce(prepared(room), QUALITY)
    patches = ready.patches
    low, high = room.bodies[0].points_m.min(axis=0), room.bodies[0].points_m.max(axis=0)
    corners = patches.corners_m
    overlap = np.minimum(corners.max(axis=1), high) - np.maximum(corners.min(axis=1), low)
    share = overlap[:, 1:].clip(0).prod(axis=1) / patches.areas_m2
    covered = int(np.where(patches.owner == NAMES.index("left"), share, 0).argmax())
    assert share[covered] > 0.2
    # of an exitance of 1
    received = patches.areas_m2[ready.on_bodies] @ ready.factors[ready.on_bodies, covered]
    for surface, gather in zip(room.surfaces, ready.gathers, strict=True):
        at_points = gather.grid.spread(gather.factors[:, [covered]])
        light = gather.grid.to_vertices(at_points)[..., 0]
        received += mean(surface, light) * surface.grid.width_m * surface.grid.height_m
    assert received == pytest.approx(patches.areas_m2[covered], rel=0.05)
