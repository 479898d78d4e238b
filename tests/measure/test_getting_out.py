"""Light that gets out of a cove or from behind a fascia, counted in the section."""

import math

import pytest

from rakelight.measure.getting_out import getting_out_numbers, share_out
from rakelight.measure.section_numbers import run_section
from reference.cut_rooms import board, room_with, run_at, shell


def share(y_m, z_m, parts, **how):
    plan, line = run_at(y_m, z_m, 0.002, **how)
    room = room_with([*shell(4.8, 2.7), *parts], line)
    return share_out(run_section(room, plan, room.lines()[0]))


def test_nothing_gets_past_a_board_down_to_the_floor():
    assert share(0.1, 2.5, board("fascia F1", 0.2, 0.0, 2.7)) == 0


def test_all_of_it_is_seen_where_nothing_stands_before_it():
    assert share(0.1, 2.5, []) == 1


def test_a_lip_lets_out_what_lands_where_an_eye_sees_it():
    # Opening (100, 2500), lip up to (200, 2650), ceiling 2700; light alike over the half turn
    # above level. The eye that sees deepest is 1.8 m up at the far wall, 4.8 m away; it sees all
    # of the ceiling, and the wall from 2687 mm up (similar triangles).
    seen_from = (2.65 - 1.8 * 0.2 / 4.8) / (1 - 0.2 / 4.8)
    assert seen_from == pytest.approx(2.6870, abs=1e-4)
    lowest = math.atan2(0.15, 0.1)  # over the lip
    highest = math.pi - math.atan2(seen_from - 2.5, 0.1)  # back to the wall
    out = share(0.1, 2.5, board("cove C1", 0.2, 2.65, 2.0), up=True)
    assert out == pytest.approx((highest - lowest) / math.pi, abs=0.015)


def test_the_number_stands_where_something_is_built():
    plan, line = run_at(0.1, 2.5, 0.002)
    room = room_with([*shell(4.8, 2.7), *board("fascia F1", 0.2, 2.3, 2.7)], line)
    [number] = getting_out_numbers(run_section(room, plan, room.lines()[0]))
    assert number.key == "run.L1.out_share"
    # what leaves more level than the line to the board's edge meets the board
    assert number.value == pytest.approx(1 - math.atan2(0.2, 0.1) / math.pi, abs=0.015)
    bare = room_with(shell(4.8, 2.7), line)
    assert getting_out_numbers(run_section(bare, plan, bare.lines()[0])) == ()
