"""Bounced light against a path tracer on the full relief.

The longer run on the shipped scenes takes minutes: RAKELIGHT_LONG=1 pytest -k shipped.
"""

import os
from dataclasses import replace

import numpy as np
import pytest

from rakelight import api
from rakelight.light.bounce import BLOCKING, BounceQuality, bounce, prepare_bounce
from rakelight.light.on_bodies import light_on_bodies
from reference.path_tracer import PathTracer
from reference.plain_rooms import (
    NAMES,
    block,
    box_room,
    even_lit,
    mean,
    prepared,
    true_areas,
    waves,
)
from reference.traced_scenes import SCENES, compare


def test_a_small_room_with_bumps_and_a_block():
    rho = dict(zip(NAMES, (0.6, 0.5, 0.4, 0.7, 0.3, 0.8), strict=True))
    heights = waves(101, 161, 1.6, 1.0, 0.04, 0.2)
    screen = block((0.6, 0.7, 0.2), (0.8, 0.9, 0.6), 0.5)
    room = box_room(1.6, 1.2, 1.0, rho, step=0.05, heights=heights, bodies=(screen,))
    quality = BounceQuality(edge_m=0.06, patch_m=0.2, point_edge_m=0.03, point_m=0.15)
    lx = {"main": 500.0, "floor": 200.0}
    out, _ = bounce(prepare_bounce(prepared(room), quality), even_lit(room, lx))
    by_owner = np.array([lx.get(name, 0.0) for name in NAMES] + [0.0])
    tracer = PathTracer(room, room.bodies, lambda points, normals, owners: by_owner[owners])
    rng = np.random.default_rng(4)
    for number, surface in enumerate(room.surfaces):
        own = np.flatnonzero(tracer.owner == number)
        traced, error = tracer.mean_over(own, 60_000, rng)
        assert error < 0.01 * traced
        found = mean(surface, out.bounced_lx[surface.name])
        assert found == pytest.approx(traced, rel=0.02, abs=2 * error), surface.name


def main_lit(room, field):
    """The main wall's vertices lit by a field, what it catches passing its mean plane evenly."""
    main = room.surface("main")
    plan = main.grid.width_m * main.grid.height_m
    passing = (field * true_areas(main)).sum() / plan * np.ones_like(field)
    lit = even_lit(room, {"main": 1.0})
    return replace(
        lit,
        direct_lx={**lit.direct_lx, "main": field[None].astype(np.float32)},
        flat_lx={"main": passing[None].astype(np.float32)},
    )


def bright(v_m):
    """Light in bands, as ledges catch it: half of each hollow is bright, half is dark. [lx]"""
    return 500 * (1 + np.cos(2 * np.pi * v_m / 0.04 + 0.9))


def test_single_vertices_in_hollows_between_bright_bands():
    """Each vertex sees its own surroundings, not its hollow's mean.

    Root mean square 5 % in hollows and 3 % in the open; with the hollows' pieces alone it was
    22 % and 8 %. The tracer's own noise is a part of it.
    """
    rows, columns = 241, 241
    heights = waves(rows, columns, 0.6, 0.6, 0.03, 0.04)
    room = box_room(0.6, 0.5, 0.6, 0.5, step=0.05, heights=heights)
    main = room.surface("main")
    lit = main_lit(room, np.repeat(bright(main.grid.v_m())[:, None], columns, axis=1))
    ready = prepared(room)
    quality = BounceQuality(edge_m=0.04, patch_m=0.15, point_edge_m=0.03, point_m=0.1)
    out, _ = bounce(prepare_bounce(ready, quality), lit)

    tracer = PathTracer(
        room, (), lambda points, normals, owners: np.where(owners == 0, bright(points[:, 2]), 0.0)
    )
    rng = np.random.default_rng(7)
    openness = ready.reliefs["main"].openness
    inner = np.zeros(heights.shape, bool)
    inner[40:-40, 40:-40] = True
    hollow = rng.choice(np.flatnonzero(inner & (openness < 0.6)), 20, replace=False)
    open_ = rng.choice(np.flatnonzero(inner & (openness > 0.75)), 20, replace=False)
    points, normals, _ = tracer.vertices_of(main)
    which = np.concatenate([hollow, open_])
    traced, error = tracer.bounced(points[which], normals[which], 10000, rng, main.frame.n)
    assert np.median(error / traced) < 0.015
    off = out.bounced_lx["main"].ravel()[which] / traced - 1
    for part, rms in ((off[:20], 0.08), (off[20:], 0.05)):
        assert abs(part.mean()) < 0.03
        assert np.sqrt((part**2).mean()) < rms


def test_the_bottoms_of_deep_holes():
    """Light that falls on their rims alone gets down by several reflections.

    By what pieces say of the second and later ones, the bottoms were 28 % too bright; by two looks
    around, without what the first says of a third, 13 %.
    """
    rows, columns = 161, 161
    deep = 0.036
    heights = waves(rows, columns, 0.4, 0.4, deep, 0.04)
    room = box_room(0.4, 0.4, 0.4, 0.6, step=0.05, heights=heights)
    main = room.surface("main")

    def rims(height_m):
        return 800 * np.clip(height_m / deep + 0.2, 0, 1)

    lit = main_lit(room, rims(main.relief.heights_m.astype(float)))
    ready = prepared(room)
    quality = BounceQuality(edge_m=0.04, patch_m=0.15, point_edge_m=0.03, point_m=0.1)
    out, _ = bounce(prepare_bounce(ready, quality), lit)
    tracer = PathTracer(
        room,
        (),
        lambda points, normals, owners: np.where(owners == 0, rims(0.4 - points[:, 1]), 0.0),
    )
    rng = np.random.default_rng(7)
    inner = np.zeros(heights.shape, bool)
    inner[40:-40, 40:-40] = True
    which = rng.choice(np.flatnonzero(inner & (heights < -0.4 * deep)), 20, replace=False)
    points, normals, _ = tracer.vertices_of(main)
    traced, error = tracer.bounced(points[which], normals[which], 10000, rng, main.frame.n)
    off = out.bounced_lx["main"].ravel()[which] / traced - 1
    assert np.median(error / traced) < 0.015
    assert abs(off.mean()) < 0.02
    assert abs(off).max() < 0.06


def test_what_a_picture_s_frame_darkens_around_it():
    """Light falls off within 50 mm beside a frame that stands 35 mm off the wall.

    With points that began 60 mm from it, it was up to 8 % low there.
    """
    scene = api.load(SCENES / "gallery-glow.toml")
    ready = api.prepare(scene)
    around = prepare_bounce(ready)
    out, _ = bounce(around, api.light(scene, ready), light_on_bodies(around))
    room, wall = scene.room, scene.room.surface("main")
    foot = wall.frame.from_room(room.surface("painting low tide under").frame.origin_m[None])[0]
    below = np.array([0.012, 0.018, 0.025, 0.032, 0.045, 0.07, 0.1])
    rows = np.round((foot[1] - below) / wall.grid.step_v_m).astype(int)
    column = round((foot[0] - 0.65) / wall.grid.step_u_m)
    tracer = PathTracer(room, [body for body in room.bodies if body.kind in BLOCKING])
    points, normals, _ = tracer.vertices_of(wall)
    which = rows * wall.grid.columns + column
    rng = np.random.default_rng(1)
    traced, error = tracer.bounced(points[which], normals[which], 40_000, rng, wall.frame.n)
    assert (error < 0.01 * traced).all()
    assert traced[0] < 0.75 * traced[-1]
    np.testing.assert_allclose(out.indirect_lx("main")[rows, column], traced, rtol=0.03)


@pytest.fixture(scope="module")
def traced_scene():
    """Lines of one scene, found and traced, kept for both tests of it."""
    kept = {}

    def lines(name):
        if name not in kept:
            kept[name] = compare(name, 600_000, 120_000, seed=1)
        return kept[name]

    return lines


long = pytest.mark.skipif("RAKELIGHT_LONG" not in os.environ, reason="minutes; RAKELIGHT_LONG=1")
ALL = ["gallery-glow", "reading-room", "brick-stair"]  # the wall a plaster, a concrete, a brick


@long
@pytest.mark.parametrize("name", [*ALL, "ticket-hall-wash", "ticket-hall-graze"])
def test_surfaces_of_shipped_scenes(name, traced_scene):
    """Means within 2 %, and two standard errors of the tracer's (at most 0.5 % each); seed 1.

    Not here: the hotel bar, the dark front of whose fascia is 3.3 % too bright, all else within
    1.5 %; the market hall, whose brick is 2.1 % low, with joints no wider than a step of its mesh;
    the spa corridor, 2.2 % too dark on its floor and the wall beside the run (2,686 of its runs'
    2,728 lm arrive).
    """
    surfaces, _ = traced_scene(name)
    for what, found, traced, error in surfaces:
        assert found == pytest.approx(traced, abs=0.02 * traced + 2 * error), what


@long
@pytest.mark.parametrize("name", [*ALL, "hotel-bar", "ticket-hall-wash", "ticket-hall-graze"])
def test_vertices_of_shipped_scenes(name, traced_scene):
    """Each of 20 vertices within 5 %, half of them where least is seen of the room; seed 1.

    Ledgestone and the hotel bar are known to fail. Of 100 to 200 hollows each, within 5 %: where
    ledgestone is washed 92 % (root mean square 3 %), where it is grazed 81 % (5.5 %), in the bar's
    joints 91 % (3 %; 20 of 20 of seed 2), of the brick stair's 97 % (2 %), and 93 % (3 %) with a
    mesh of 3.5 mm.
    """
    _, vertices = traced_scene(name)
    assert all(error < 0.015 * traced for _, _, traced, error in vertices)
    off = {what: round(100 * (found / traced - 1), 1) for what, found, traced, _ in vertices}
    assert all(abs(percent) <= 5 for percent in off.values()), off
