"""Cut-off and sight lines against values worked out by hand from similar triangles, to 0.1 mm."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rakelight.measure.cutoff import (
    aim_limit_rad,
    base_aim_rad,
    ceiling_cutoff,
    edge_height_for_m,
    meets_ceiling_m,
    meets_wall_m,
    source_distance_for_m,
    source_height_for_m,
    wall_cutoff,
)
from rakelight.measure.sight import (
    fascia_height_m,
    hidden_above_fascia,
    hidden_behind_lip,
    lip_height_m,
    lip_range,
    seen_over_lip,
    seen_under_fascia,
    sight_line_at_m,
)

TENTH_MM = 0.05e-3 + 1e-9


def mm(*values):
    return np.array(values) / 1000


@pytest.mark.parametrize(
    ("source", "edge", "width", "centre", "light", "shadow"),
    [
        ((100, 2540), (200, 2590.8), 20, 500.0, 470.0, 530.0),
        ((76.2, 2438.4), (152.4, 2463.8), 20, 990.6, 880.6, 1100.6),
        ((50.8, 2590.8), (127, 2641.6), 20, 279.4, 259.4, 299.4),
    ],
)
def test_a_lip_ends_the_light_on_a_ceiling(source, edge, width, centre, light, shadow):
    # coves under a ceiling at 9 ft; re-derived from similar triangles
    found = ceiling_cutoff(mm(*source), width / 1000, mm(*edge), 2.7432)
    values = (found.centre_m, found.full_light_m, found.full_shadow_m)
    assert values == pytest.approx(mm(centre, light, shadow), abs=TENTH_MM)


@pytest.mark.parametrize(
    ("source", "edge", "width", "above", "centre", "light", "shadow"),
    [
        ((254, 2743.2), (152.4, 2667), 20, True, 2552.7, 2540.2, 2562.9),  # fascia of a slot
        ((304.8, 2819.4), (101.6, 2743.2), 40, False, 2705.1, 2708.5, 2700.9),  # floating panel
        ((152.4, 2743.2), (50.8, 2692.4), 40, False, 2667.0, 2671.2, 2660.8),  # knife edge
    ],
)
def test_an_edge_ends_the_light_on_a_wall(source, edge, width, above, centre, light, shadow):
    found = wall_cutoff(mm(*source), width / 1000, mm(*edge), edge_above=above)
    values = (found.centre_m, found.full_light_m, found.full_shadow_m)
    assert values == pytest.approx(mm(centre, light, shadow), abs=TENTH_MM)
    assert found.softness_m == pytest.approx(abs(light - shadow) / 1000, abs=2 * TENTH_MM)


def test_edges_that_end_the_light_exactly_in_a_corner():
    # a floating ceiling that throws up, a slot that looks down, a cove across a room
    up = edge_height_for_m(mm(254, 2768.6), 0.1524, mm(0, 2895.6))
    down = edge_height_for_m(mm(254, 2895.6), 0.1524, mm(0, 2743.2))
    across = edge_height_for_m(mm(100, 2540), 0.2, mm(4800, 2743.2))
    assert (up, down, across) == pytest.approx(mm(2819.4, 2834.6, 2544.3), abs=TENTH_MM)
    limit = aim_limit_rad(mm(254, 2895.6), (0.1524, down))
    assert math.degrees(limit) == pytest.approx(59.0362, abs=1e-3)
    # a lip 10 mm over the source instead: the line meets the far wall higher, by proportion
    high = 2.54 + 0.010 * (4800 - 100) / 100
    assert high == pytest.approx(3.010, abs=TENTH_MM)
    assert meets_ceiling_m(mm(100, 2540), mm(200, 2550), 3.010) == pytest.approx(4.8, abs=TENTH_MM)


@given(
    ya=st.floats(0.2, 2), za=st.floats(2, 4), yb=st.floats(0.02, 0.19), corner=st.floats(1, 5)
)  # fmt: skip
def test_edge_source_height_and_distance_undo_each_other(ya, za, yb, corner):
    edge = edge_height_for_m((ya, za), yb, (0, corner))
    assert meets_wall_m((ya, za), (yb, edge)) == pytest.approx(corner, abs=1e-9)
    assert source_height_for_m((yb, edge), ya, (0, corner)) == pytest.approx(za, abs=1e-9)
    if abs(edge - corner) > 1e-6:
        again = source_distance_for_m((yb, edge), za, (0, corner))
        assert again == pytest.approx(ya, rel=1e-5)


def test_lines_that_go_nowhere_say_so():
    assert math.isnan(meets_wall_m((0.1, 2), (0.2, 1)))
    assert math.isnan(meets_ceiling_m((0.1, 2), (0.2, 1.9), 2.7))
    with pytest.raises(ValueError, match="one distance"):
        edge_height_for_m((0.1, 2), 0.05, (0.1, 3))


@pytest.mark.parametrize(
    ("setback", "height", "deg"),
    [(30, 108, 15.5241), (36, 108, 18.4349), (24, 108, 12.5288), (6, 108, 3.1798),
     (3, 108, 1.5911), (12, 120, 5.7106), (36, 144, 14.0362)],
)  # fmt: skip
def test_the_base_lies_at_the_arc_tangent_of_setback_over_height(setback, height, deg):
    assert math.degrees(base_aim_rad(setback, height)) == pytest.approx(deg, abs=5e-5)


@pytest.mark.parametrize(
    ("depth", "seated", "standing", "line"),
    [(3000, 2337.9, 2358.6, 2433.1), (6000, 2369.5, 2379.7, 2410.6),
     (12000, 2384.9, 2389.9, 2400.1)],
)  # fmt: skip
def test_a_lip_that_just_hides_a_cove(depth, seated, standing, line):
    opening = mm(100, 2400)
    assert lip_height_m(opening, 0.25, mm(depth, 1200)) == pytest.approx(seated / 1e3, abs=TENTH_MM)
    found = lip_height_m(opening, 0.25, mm(depth, 1600))
    assert found == pytest.approx(standing / 1e3, abs=TENTH_MM)
    at = sight_line_at_m(0.1, mm(250, 2390), mm(depth, 1600))
    assert at == pytest.approx(line / 1e3, abs=TENTH_MM)
    assert hidden_behind_lip(opening, (0.25, found + 1e-4), mm(depth, 1600))
    assert not hidden_behind_lip(opening, (0.25, found - 1e-4), mm(depth, 1600))


@pytest.mark.parametrize(
    ("near", "seated", "standing"),
    [(500, 2137.5, 2287.5), (1000, 2450.0, 2516.7), (3000, 2622.4, 2643.1)],
)
def test_a_fascia_that_just_hides_a_slot(near, seated, standing):
    opening = mm(100, 2700)
    for eye, edge in ((1200, seated), (1600, standing)):
        found = fascia_height_m(opening, 0.25, mm(near, eye))
        assert found == pytest.approx(edge / 1e3, abs=TENTH_MM)
        assert hidden_above_fascia(opening, (0.25, found - 1e-4), mm(near, eye))
        assert not hidden_above_fascia(opening, (0.25, found + 1e-4), mm(near, eye))
    assert not hidden_above_fascia(opening, mm(250, 1700), mm(200, 1600))  # from straight below


def test_a_cove_is_seen_from_afar_and_a_slot_from_near():
    # similar triangles: the lip 10 mm below the opening, 150 mm before it, 790 mm over the eye
    seen = seen_over_lip(mm(100, 2400), mm(250, 2390), 1.6, 20.0)
    assert seen.nearest_m == pytest.approx(0.25 + 0.15 * 0.79 / 0.01, abs=1e-4)
    assert seen.farthest_m == 20.0
    assert not seen_over_lip(mm(100, 2400), mm(250, 2390), 1.6, 10.0).ever
    assert not seen_over_lip(mm(100, 2380), mm(250, 2390), 1.6, 100.0).ever
    under = seen_under_fascia(mm(100, 2700), mm(250, 2600), 1.6, 10.0)
    assert under.nearest_m == 0.6
    assert under.farthest_m == pytest.approx(0.25 + 0.15 * 1.0 / 0.1, abs=1e-9)
    assert not seen_under_fascia(mm(100, 2700), mm(250, 2100), 1.6, 10.0).ever


@given(
    opening=st.tuples(st.floats(0.05, 0.2), st.floats(1.9, 3)),
    edge=st.tuples(st.floats(0.25, 0.4), st.floats(1.9, 3)),
    eye=st.floats(1.0, 1.8),
    share=st.floats(0, 1),
)
def test_where_it_is_seen_agrees_with_whether_it_is_hidden(opening, edge, eye, share):
    for seen, hidden in (
        (seen_over_lip, hidden_behind_lip),
        (seen_under_fascia, hidden_above_fascia),
    ):
        found = seen(opening, edge, eye, 8.0)
        at = 0.6 + share * 7.4
        inside = found.ever and found.nearest_m < at < found.farthest_m
        near_limit = (
            found.ever and min(abs(at - found.nearest_m), abs(at - found.farthest_m)) < 1e-6
        )
        if not near_limit and abs(opening[1] - edge[1]) > 1e-6:
            assert inside == (not hidden(opening, edge, (at, eye)))


def test_a_lip_both_hides_and_clears_or_cannot():
    room = dict(room_depth_m=4.8, target_m=mm(4800, 2743.2))
    both = lip_range(mm(100, 2540), 0.2, **room, eyes_m=(1.2, 1.6))
    k = 0.1 / 4.6
    assert both.hides_m == pytest.approx((2.54 + k * 1.6) / (1 + k), abs=1e-9)
    assert both.clears_m == pytest.approx(2.5443, abs=TENTH_MM)
    assert both.possible
    low = lip_range(mm(100, 2540), 0.2, room_depth_m=4.8, target_m=mm(900, 1000), eyes_m=(1.6,))
    assert not low.possible
