"""Sections of built rooms: cut-off lines and sight against similar triangles, to 0.1 mm."""

import math

import numpy as np
import pytest

from rakelight.measure.cutoff_lines import cut_off_lines, turned_cut
from rakelight.measure.section_cut import cut_square, face_cuts
from rakelight.measure.section_numbers import run_section, section_numbers
from rakelight.measure.sight import fascia_height_m, lip_height_m
from rakelight.measure.sight_ranges import edge_range, half_peak_rad, screen_of, sees, sight_range
from reference.cut_rooms import board, room_with, run_at, shell
from reference.grazed_walls import distribution
from reference.mountings import X, Y, Z, rectangle

TENTH_MM = 0.05e-3 + 1e-9
CEILING = 2.7432

# Opening's middle A, edge B, opening's width, where the board hangs, the surface, and where on
# it the middle's line, full light and full shadow lie: re-derived from similar triangles. [mm]
CASES = [
    ((100, 2540), (200, 2590.8), 20, "lip", "ceiling", 500.0, 470.0, 530.0),
    ((76.2, 2438.4), (152.4, 2463.8), 20, "lip", "ceiling", 990.6, 880.6, 1100.6),
    ((50.8, 2590.8), (127, 2641.6), 20, "lip", "ceiling", 279.4, 259.4, 299.4),
    ((254, 2743.2), (152.4, 2667), 20, "hangs", "main", 2552.7, 2540.2, 2562.9),
    ((304.8, 2819.4), (101.6, 2743.2), 40, "panel", "main", 2705.1, 2708.5, 2700.9),
    ((152.4, 2743.2), (50.8, 2692.4), 40, "panel", "main", 2667.0, 2671.2, 2660.8),
]


def built(a, b, width, how):
    (y_a, z_a), (y_b, z_b) = np.array(a) / 1000, np.array(b) / 1000
    ceiling = CEILING if how == "lip" else 3.2
    toward_wall = how != "lip"
    # light that must rise or run level leaves an opening that faces up
    up = how == "lip"
    plan, line = run_at(y_a, z_a, width / 1000, up=up, toward_wall=toward_wall)
    other = z_b + 0.4 if how == "hangs" else 0.0
    parts = [*shell(4.8, ceiling), *board("fascia F1", y_b, z_b, other)]
    return plan, line, room_with(parts, line)


@pytest.mark.parametrize(("a", "b", "width", "how", "on", "middle", "light", "dark"), CASES)
def test_the_cut_off_of_a_built_room_lies_where_triangles_say(
    a, b, width, how, on, middle, light, dark
):
    plan, line, room = built(a, b, width, how)
    lines = cut_off_lines(cut_square(room, plan, line))
    [found] = [one for one in lines if one.on == on]
    axis = 0 if on == "ceiling" else 1
    places = [p[axis] * 1000 for p in (found.lands_m, found.full_light_m, found.full_shadow_m)]
    assert places == pytest.approx([middle, light, dark], abs=TENTH_MM * 1000)
    assert found.edge_m * 1000 == pytest.approx(b, abs=1e-6)
    assert found.softness_m * 1000 == pytest.approx(abs(dark - light), abs=0.1)


def test_what_would_put_it_into_the_corner_does():
    # a cove across a room 4.8 m deep: its lip must reach 2544.3 mm (similar triangles)
    plan, line, room = built((100, 2540), (200, 2590.8), 20, "lip")
    section = run_section(room, plan, line)
    [found] = [one for one in section.cut_offs if one.on == "ceiling"]
    assert found.corner_m == pytest.approx((4.8, CEILING))
    assert found.from_corner_m == pytest.approx(4.3, abs=TENTH_MM)
    assert found.edge_for_corner_m == pytest.approx(2.5443, abs=TENTH_MM)
    # built so, it lands there
    low = room_with([*shell(4.8, CEILING), *board("fascia F1", 0.2, found.edge_for_corner_m, 2.2)],
                    line)  # fmt: skip
    [again] = [k for k in run_section(low, plan, line).cut_offs if "fascia" in k.thing]
    assert again.lands_m == pytest.approx((4.8, CEILING), abs=TENTH_MM)
    numbers = {n.key: n.value for n in section_numbers(section)}
    assert numbers["run.L1.cutoff.fascia-F1.ceiling.at_m"] == found.lands_m[0]


def test_a_turn_about_the_opening_moves_its_sides_and_not_its_middle():
    plan, line, room = built((100, 2540), (200, 2590.8), 20, "lip")
    cut = cut_square(room, plan, line)
    [was] = [k for k in cut_off_lines(cut) if k.on == "ceiling"]
    [now] = [k for k in cut_off_lines(turned_cut(cut, math.radians(20))) if k.on == "ceiling"]
    assert now.lands_m == pytest.approx(was.lands_m, abs=1e-9)
    assert abs(now.softness_m - was.softness_m) > 1e-3
    # the opening's sides, 10 mm from its middle and 20 deg out of level
    for side in (-1, 1):
        y = 0.1 + side * 0.010 * math.cos(math.radians(20))
        z = 2.54 + side * 0.010 * math.sin(math.radians(20)) * np.sign(
            turned_cut(cut, 0.1).ends_m[0, 1] - 2.54
        ) * np.sign(cut.ends_m[0, 0] - 0.1)
        at = y + (0.2 - y) * (CEILING - z) / (2.5908 - z)
        assert min(abs(at - now.full_light_m[0]), abs(at - now.full_shadow_m[0])) < 1e-9


def test_an_edge_behind_another_board_draws_nothing():
    plan, line, room = built((100, 2540), (200, 2590.8), 20, "lip")
    parts = [*room.surfaces, *board("fascia F2", 0.15, 2.0, CEILING - 0.01)]
    things = {k.thing for k in cut_off_lines(cut_square(room_with(parts, line), plan, line))}
    assert things == {"fascia F2"}


@pytest.mark.parametrize(
    ("depth", "seated", "standing"),
    [(3.0, 2337.9, 2358.6), (6.0, 2369.5, 2379.7), (12.0, 2384.9, 2389.9)],
)
def test_the_lip_that_just_hides_a_cove_in_a_room(depth, seated, standing):
    # opening at (100, 2400), lip at 250 mm, worst eye at the far wall: similar triangles
    for eye, lip in ((1.2, seated), (1.6, standing)):
        for off, hidden in ((1e-4, True), (-2e-4, False)):
            plan, line = run_at(0.1, 2.4, 1e-6, up=True)
            parts = [*shell(depth, 2.7), *board("fascia F1", 0.25, lip / 1000 + off, 2.0)]
            # an opening that faces up is seen from above its plane alone; let it face the room
            cut = cut_square(room_with(parts, line), plan, line)
            cut = turned_cut(cut, -math.radians(60))
            assert (not sight_range(cut, eye).seen_m) == hidden
        screen = screen_of(cut)
        assert screen.over
        assert edge_range(cut, screen, math.nan, (eye,)).hides_m * 1000 == pytest.approx(
            lip, abs=0.06
        )


@pytest.mark.parametrize(
    ("nearest", "seated", "standing"),
    [(500, 2137.5, 2287.5), (1000, 2450.0, 2516.7), (3000, 2622.4, 2643.1)],
)
def test_the_fascia_that_just_hides_a_slot_in_a_room(nearest, seated, standing):
    # opening at (100, 2700), fascia at 250 mm; the worst eye is the nearest: similar triangles
    for eye, edge in ((1.2, seated), (1.6, standing)):
        for off, hidden in ((-1e-4, True), (2e-4, False)):
            plan, line = run_at(0.1, 2.7, 1e-6)
            parts = [*shell(6.0, 2.8), *board("fascia F1", 0.25, edge / 1000 + off, 2.8)]
            cut = cut_square(room_with(parts, line), plan, line)
            assert (not sight_range(cut, eye, nearest / 1000).seen_m) == hidden
        screen = screen_of(cut)
        assert not screen.over
        found = edge_range(cut, screen, math.nan, (eye,), nearest / 1000)
        assert found.hides_m * 1000 == pytest.approx(edge, abs=0.06)
        assert found.clears_m == -math.inf


def test_sight_changes_exactly_where_a_look_says_so():
    rng = np.random.default_rng(5)
    for _ in range(6):
        edge = rng.uniform(2.2, 2.65)
        plan, line = run_at(0.15, 2.7, 0.03, tilt_rad=rng.uniform(-0.5, 0.5))
        parts = [*shell(5.0, 2.9), *board("fascia F1", 0.3, edge, 2.9),
                 *board("bench B1", 2.0, 0.0, 1.7)]  # fmt: skip
        cut = cut_square(room_with(parts, line), plan, line)
        found = sight_range(cut, 1.5)
        for at in rng.uniform(0.6, 5.0, 60):
            inside = any(low < at < high for low, high in found.seen_m)
            assert inside == sees(cut, np.array([at, 1.5]))


def test_half_of_the_peak_is_where_the_file_says():
    # cos^n about a direction 15 deg over level, away from the wall: half at acos(0.5^(1/n))
    aim = np.array([0.0, math.cos(math.radians(15)), math.sin(math.radians(15))])
    lobe = distribution(lambda d: 1000 * np.maximum(0.0, d @ aim) ** 40)
    plan, line = run_at(0.1, 2.4, 0.02, up=True, optic=lobe)
    room = room_with([*shell(5.0, 2.7), *board("fascia F1", 0.25, 2.45, 2.2)], line)
    cut = cut_square(room, plan, line)
    # the made file's own frame: find its peak in the section, then step to the half
    half = half_peak_rad(cut, line)
    level = [float(line.candela_per_metre(way[0] * cut.out + way[1] * cut.up))
             for way in [cut.direction(half)]]  # fmt: skip
    ring = [cut.direction(a) for a in np.linspace(-math.pi, math.pi, 1441)]
    peak = max(float(line.candela_per_metre(w[0] * cut.out + w[1] * cut.up)) for w in ring)
    assert level[0] == pytest.approx(peak / 2, rel=0.02)


def test_lips_that_hide_and_clear_or_cannot():
    plan, line = run_at(0.1, 2.54, 0.02, up=True)
    room = room_with([*shell(4.8, CEILING), *board("fascia F1", 0.2, 2.55, 2.2)], line)
    cut = cut_square(room, plan, line)
    screen = screen_of(cut)
    for degrees in (5.0, -10.0):
        # beam aims count from the run's straight down, here straight up, so level is 90 deg
        aim = cut.aim_rad(np.array([math.cos(math.radians(degrees)),
                                    math.sin(math.radians(degrees))]))  # fmt: skip
        found = edge_range(cut, screen, aim)
        rise = math.tan(math.radians(degrees))
        ends = sorted(float(e[0]) for e in cut.ends_m)
        assert found.clears_m == pytest.approx(min(2.54 + (0.2 - y) * rise for y in ends), abs=1e-9)
        hides = max(lip_height_m((y, 2.54), 0.2, (4.8, 1.8)) for y in ends)
        assert found.hides_m == pytest.approx(hides, abs=1e-9)
        assert found.possible == (found.hides_m <= found.clears_m)
    assert not found.possible
    assert fascia_height_m((0.1, 2.7), 0.25, (0.6, 1.2)) < 2.7


def test_holes_are_left_out_of_a_cut():
    hole = [[1.0, 1.0], [2.0, 1.0], [2.0, 2.0], [1.0, 2.0]]
    wall = rectangle("main", (0, 0, 0), X, Z, (4, 3), holes=[hole])
    through = face_cuts(wall, X, 1.5)
    assert sorted(tuple(np.round(sorted((a[2], b[2])), 9)) for a, b in through) == [
        (0.0, 1.0),
        (2.0, 3.0),
    ]
    assert len(face_cuts(wall, X, 0.5)) == 1
    assert face_cuts(wall, Y, 0.5) == []


def test_a_place_beyond_the_run_is_refused():
    plan, line, room = built((100, 2540), (200, 2590.8), 20, "lip")
    with pytest.raises(ValueError, match="is not on run L1"):
        cut_square(room, plan, line, 9.0)
