"""Bounced light of whole rooms: closed forms, balances, and what must follow from them."""

from dataclasses import replace

import numpy as np
import pytest

from rakelight.light.bounce import BounceQuality, bounce, prepare_bounce
from rakelight.light.solve import solve
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
    waves,
)

COARSE = BounceQuality(edge_m=0.15, patch_m=0.5, point_edge_m=0.1, point_m=0.5)

# the box 4.8 x 3.6 x 2.7 m: 8000 lm of direct flux spread evenly over each side
RHO = dict(zip(NAMES, (0.45, 0.5, 0.5, 0.5, 0.2, 0.8), strict=True))
FLUX = dict(zip(NAMES, (6000, 500, 150, 150, 900, 300), strict=True))
AREA = {name: w * h for name, (_, w, h) in box_frames(4.8, 3.6, 2.7).items()}
DIRECT = {name: FLUX[name] / AREA[name] for name in NAMES}


def test_one_patch_a_side_solves_to_the_matrix():
    # E = E_direct + F rho E with Howell's factors (C-11, C-14), solved apart from this project
    factors = np.array(
        [
            [0, 0.193043, 0.144637, 0.144637, 0.258841, 0.258841],
            [0.193043, 0, 0.144637, 0.144637, 0.258841, 0.258841],
            [0.192849, 0.192849, 0, 0.105520, 0.254390, 0.254390],
            [0.192849, 0.192849, 0.105520, 0, 0.254390, 0.254390],
            [0.194131, 0.194131, 0.143095, 0.143095, 0, 0.325549],
            [0.194131, 0.194131, 0.143095, 0.143095, 0.325549, 0],
        ],
        np.float32,
    )
    rho = np.array([[RHO[n]] for n in NAMES], np.float32)
    direct = np.array([[DIRECT[n]] for n in NAMES], np.float32)
    exitance, _, left, _ = solve(factors, direct * rho, rho, 1e-4)
    assert left < 1e-4
    expected = [519.27, 127.67, 106.51, 106.51, 151.17, 100.2]
    np.testing.assert_allclose((exitance / rho)[:, 0], expected, rtol=2e-3)


def test_a_meshed_box_sees_its_gradients():
    # 24 x 18 x 14 patches with exact patch factors, apart from this project; 1 %
    room = box_room(4.8, 3.6, 2.7, RHO)
    out, balance = bounce(prepare_bounce(prepared(room)), even_lit(room, DIRECT))
    expected = dict(zip(NAMES, (524.84, 123.67, 105.94, 105.94, 150.43, 100.78), strict=True))
    total = {n: mean(room.surface(n), out.total_lx(n)) for n in NAMES}
    for name in NAMES:
        assert total[name] == pytest.approx(expected[name], rel=0.01)
    assert balance.arrived_lm == pytest.approx(8000, rel=1e-3)
    assert abs(balance.error) < 0.005
    caught = sum(total[n] * AREA[n] for n in NAMES)
    assert 1 - 8000 / caught == pytest.approx(0.45965, rel=0.01)


@pytest.mark.parametrize(
    ("rho", "lx"),
    [(0.05, 5.4825), (0.3, 44.643), (0.5, 104.17), (0.8, 416.67), (0.95, 1979.2)],
)
def test_a_closed_cube_reflects_as_a_sphere_does_on_average(rho, lx):
    # CIE 171:2006, internal reflected component (geometry from memory): 4 m cube, 10 000 lm
    room = box_room(4, 4, 4, rho, step=0.25)
    lit = even_lit(room, {"main": 4000 / 16, "floor": 6000 / 16})
    out, _ = bounce(prepare_bounce(prepared(room), COARSE), lit)
    found = np.mean([mean(s, out.bounced_lx[s.name]) for s in room.surfaces])
    assert found == pytest.approx(lx, rel=0.01)


@pytest.mark.parametrize(
    ("rho1", "rho2", "first", "second"),
    [(0.5, 0.8, 166.667, 83.3333), (0.3, 0.7, 126.582, 37.9747)],
)
def test_two_endless_planes(rho1, rho2, first, second):
    # E1 / (1 - r1 r2) and r1 E1 / (1 - r1 r2), geometric series
    rho = np.array([[rho1], [rho2]], np.float32)
    source = np.array([[100 * rho1], [0]], np.float32)
    factors = np.array([[0, 1], [1, 0]], np.float32)
    exitance, _, _, _ = solve(factors, source, rho, 1e-5)
    np.testing.assert_allclose((exitance / rho)[:, 0], [first, second], rtol=1e-4)


def relief_room(rho=0.5, depth=0.03, bodies=()):
    heights = waves(201, 321, 1.6, 1.0, depth, 0.1)
    return box_room(1.6, 1.2, 1.0, rho, step=0.05, heights=heights, bodies=bodies)


SMALL = BounceQuality(edge_m=0.06, patch_m=0.2, point_edge_m=0.03, point_m=0.2)


def test_a_furnace_is_even_with_relief_and_blocker():
    # every surface gives out M0 (1 - rho) by itself: then M = E = M0 all over
    rho = dict(zip(NAMES, (0.45, 0.5, 0.3, 0.6, 0.2, 0.8), strict=True))
    room = relief_room(rho, bodies=(block((0.6, 0.4, 0.2), (0.9, 0.7, 0.6), 0.35),))
    ready = prepare_bounce(prepared(room), SMALL)
    assert ready.closed
    lit = even_lit(room, {n: 1000 * (1 - r) / r for n, r in rho.items()})
    on_bodies = np.full((1, int(ready.on_bodies.sum())), 1000 * 0.65 / 0.35, np.float32)
    out, _ = bounce(ready, lit, on_bodies)
    for surface in room.surfaces:
        lx = out.bounced_lx[surface.name]
        assert mean(surface, lx) == pytest.approx(1000, rel=0.005), surface.name
        spread = 0.02 if surface.relief is not None else 0.01  # worst in the corners
        assert np.quantile(np.abs(lx / 1000 - 1), 0.99) < spread, surface.name


def test_light_is_neither_lost_nor_made():
    room = relief_room()
    _, balance = bounce(prepare_bounce(prepared(room), SMALL), even_lit(room, {"main": 500}))
    assert abs(balance.error) < 0.01
    assert balance.residual < 1e-4


def test_black_surfaces_reflect_nothing():
    room = relief_room(0.0)
    out, _ = bounce(prepare_bounce(prepared(room), SMALL), even_lit(room, {"main": 500}))
    assert all(np.all(lx == 0) for lx in out.bounced_lx.values())


def test_more_reflectance_means_more_light_everywhere():
    found = []
    for floor in (0.2, 0.6):
        room = relief_room({**dict.fromkeys(NAMES, 0.5), "floor": floor})
        out, _ = bounce(prepare_bounce(prepared(room), SMALL), even_lit(room, {"main": 500}))
        found.append(out.bounced_lx)
    for name in NAMES:
        assert np.all(found[1][name] >= found[0][name])
        assert found[0][name].min() >= 0


def two_groups(room):
    one, two = even_lit(room, {"main": 500}), even_lit(room, {"left": 300, "main": 40})
    both = {n: np.concatenate([one.direct_lx[n], two.direct_lx[n]]) for n in one.direct_lx}
    flat = {n: np.concatenate([one.flat_lx[n], two.flat_lx[n]]) for n in one.flat_lx}
    return replace(one, direct_lx=both, flat_lx=flat, output=np.ones(2), white_rgb=np.ones((2, 3)))


def test_two_groups_together_give_the_sum_of_each_and_dim_in_proportion():
    room = relief_room()
    ready = prepare_bounce(prepared(room), SMALL)
    lit = two_groups(room)
    both, _ = bounce(ready, lit)
    first, _ = bounce(ready, replace(lit, output=np.array([1.0, 0.0])))
    second, _ = bounce(ready, replace(lit, output=np.array([0.0, 1.0])))
    dimmed, _ = bounce(ready, replace(lit, output=np.array([0.37, 0.37])))
    for name in NAMES:
        whole = both.bounced_lx[name]
        np.testing.assert_allclose(
            first.bounced_lx[name] + second.bounced_lx[name], whole, rtol=1e-3
        )
        assert mean(room.surface(name), first.bounced_lx[name]) + mean(
            room.surface(name), second.bounced_lx[name]
        ) == pytest.approx(mean(room.surface(name), whole), rel=1e-4)
        np.testing.assert_allclose(dimmed.bounced_lx[name], 0.37 * whole, rtol=2e-4)


def test_a_red_floor_reddens_what_it_lights():
    room = box_room(1.6, 1.2, 1.0, {**dict.fromkeys(NAMES, 0.5), "floor": (0.6, 0.2, 0.1)})
    out, _ = bounce(prepare_bounce(prepared(room), SMALL), even_lit(room, {"floor": 500}))
    ceiling = out.bounced_lx["ceiling"]
    assert ceiling.shape[-1] == 3
    assert ceiling[..., 0].mean() > 2 * ceiling[..., 1].mean()
    weights = np.array([0.2126, 0.7152, 0.0722])
    luma = ceiling @ weights
    np.testing.assert_allclose(out.indirect_lx("ceiling"), luma, rtol=1e-5)
    np.testing.assert_allclose(
        out.rgb_lx("ceiling") @ np.array([0.2126, 0.7152, 0.0722]),
        out.total_lx("ceiling"),
        rtol=1e-4,
    )


@pytest.mark.parametrize(
    ("top", "expected"),
    [
        (None, (229.7, 123.85, 39.93)),
        (0.2, (169.52, 88.802, 34.874)),
        (0.5, (169.52, 65.516, 21.36)),
    ],
)
def test_a_screen_hides_part_of_a_bright_floor(top, expected):
    # in the kind of CIE 171:2006, geometry ours: patch x, y 0 to 1, 1000 lx, rho 0.8; readings
    # on the wall x = 0 at y = 0.5, z 0.3, 0.6, 1.2, by the polygon formula on what is seen
    frames = box_frames(1.0, 1.0, 1.5)
    floor = plain_surface("floor", *frames["floor"], 0.8, 0.05)
    wall = plain_surface("left", *frames["left"], 0.0, 0.05)
    screen = () if top is None else (block((0.4999, -0.5, 0.0), (0.5001, 1.5, top), 0.0),)
    room = Room((floor, wall), (), screen)
    out, balance = bounce(prepare_bounce(prepared(room)), even_lit(room, {"floor": 1000}))
    lx = out.bounced_lx["left"]
    found = [lx[round(z / wall.grid.step_v_m), wall.grid.columns // 2] for z in (0.3, 0.6, 1.2)]
    np.testing.assert_allclose(found, expected, rtol=0.02)
    assert not prepare_bounce(prepared(room)).closed
    assert abs(balance.error) < 0.02
