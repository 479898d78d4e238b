"""Sentences of a sweep say what the numbers say, and nothing else."""

from types import SimpleNamespace

import numpy as np
import pytest

from rakelight.scene.number import Number
from rakelight.study.knobs import knob
from rakelight.study.ranges import parse_range
from rakelight.study.step import Step
from rakelight.study.sweep import Wish
from rakelight.tell.shown import Units
from rakelight.tell.strip import chosen, upright_slice
from rakelight.tell.sweep_sentences import step_sentence, sweep_sentence
from rakelight.tell.sweep_story import Told

METRES = Units("m", "lx")


def wall(index, label, *, zone, foot, average, ratio=30.0, grain=0.5, centre=None, share=0.4):
    numbers = {
        "main.height_m": 2.7, "main.texture_over_mean": grain, "main.drama_share": share,
        "main.drama_zone_low_m": zone[0], "main.drama_zone_high_m": zone[1],
        "main.drama_centre_m": sum(zone) / 2 if centre is None else centre,
        "main.foot_lx": foot, "main.flat.average_lx": average, "main.max_to_min": ratio,
        "main.bright_band_at_m": zone[1],
    }  # fmt: skip
    return told(index, label, numbers)


def told(index, label, numbers):
    made = tuple(Number(key, value, "1", "") for key, value in numbers.items())
    step = Step(made, (), (), (), {}, None, (np.nan, np.nan))
    return Told(Wish(index, (float(index),), (label,)), step)


def swept(text="2in:6in:1in", key="setback", surface="main", tags=("G1",)):
    return SimpleNamespace(
        ranges=(parse_range(knob(key), text, "m"),), surface=surface, tags=tags, runs=(0,)
    )


def test_the_drama_comes_down_and_the_base_doubles():
    steps = [
        wall(0, "2 in", zone=(2.3, 2.7), foot=20, average=200),
        wall(1, "4 in", zone=(1.5, 2.3), foot=30, average=180),
        wall(2, "6 in", zone=(0.6, 1.5), foot=40, average=100),
    ]
    said = sweep_sentence(swept(), steps, METRES)
    assert said == (
        "As the setback goes from 2 in to 6 in, the drama moves from the top 0.40 m to heights of "
        "0.60–1.50 m, the base doubles (20 to 40 lx) and the wall's average halves "
        "(200 to 100 lx)."
    )


def test_what_stays_is_said_to_stay():
    steps = [
        wall(0, "2 in", zone=(0.0, 1.5), foot=20, average=200, ratio=5.0),
        wall(1, "4 in", zone=(0.0, 1.5), foot=20.4, average=201, ratio=5.0),
    ]
    said = sweep_sentence(swept(), steps, METRES)
    assert "the drama stays at the lowest 1.50 m" in said
    assert "the base stays as it is (20 lx)" in said
    assert "max:min stays at 5.0:1" in said
    for word in ("moves", "rises", "falls", "doubles"):
        assert word not in said


def test_what_turns_back_in_between_is_not_hidden():
    steps = [
        wall(0, "2 in", zone=(0.6, 1.5), foot=20, average=200, ratio=4.0),
        wall(1, "3 in", zone=(2.0, 2.6), foot=60, average=150, ratio=9.0),
        wall(2, "4 in", zone=(0.6, 1.5), foot=26, average=190, ratio=4.1),
    ]
    said = sweep_sentence(swept(), steps, METRES)
    assert "highest at 3 in" in said
    assert "the base rises by 30 % (20 to 26 lx) (most at 3 in: 60 lx)" in said
    assert "least at 3 in: 150 lx" in said
    assert "most at 3 in: 9.0:1" in said


def test_no_ratio_is_told_where_a_client_would_not_read_it():
    steps = [
        wall(0, "2 in", zone=(2.3, 2.7), foot=0, average=200, ratio=float("inf")),
        wall(1, "4 in", zone=(2.3, 2.7), foot=0, average=220, ratio=90.0),
    ]
    said = sweep_sentence(swept(), steps, METRES)
    assert "max:min" not in said
    assert "the base stays dark" in said


def test_texture_that_hardly_shows_is_no_drama():
    one = wall(0, "2 in", zone=(1, 2), foot=9, average=90, grain=0.4)
    other = wall(1, "9 in", zone=(1, 2), foot=9, average=90, grain=0.01)
    assert "the texture fades until it hardly shows" in sweep_sentence(
        swept(), [one, other], METRES
    )
    assert "the texture appears" in sweep_sentence(swept(), [other, one], METRES)
    neither = sweep_sentence(swept(), [other, other], METRES)
    assert "drama" not in neither
    assert "the brightest band stays at 2.00 m up" in neither
    everywhere = wall(2, "12 in", zone=(0, 2.7), foot=9, average=90, share=0.95)
    assert "nearly the whole height" in sweep_sentence(swept(), [one, everywhere], METRES)


def test_a_ceiling_is_told_by_its_throw():
    steps = [
        told(i, label, {
            "ceiling.average_lx": average, "ceiling.max_lx": most, "ceiling.max_to_min": 3.0,
            "run.C1.ceiling.half_m": half, "run.C1.ceiling.max_to_min": ratio,
            "run.C1.cove_back.ratio": back,
        })
        for i, (label, average, most, half, ratio, back) in enumerate(
            [("4 in", 50, 400, 0.5, 12.0, 1.5), ("18 in", 60, 100, 2.25, 3.0, 0.6)]
        )
    ]  # fmt: skip
    sweep = swept("4in:18in:14in", "distance-below", "ceiling", ("C1",))
    said = sweep_sentence(sweep, steps, METRES)
    assert said.startswith("As the distance below the ceiling goes from 4 in to 18 in, ")
    assert "the ceiling's average rises by 20 % (50 to 60 lx)" in said
    assert "its brightest spot falls to 25 % (400 to 100 lx)" in said
    assert "half of C1's peak is left 0.50 m out at first and 2.25 m at last" in said
    assert "max:min 0.30 m and more off the walls goes from 12.0:1 to 3.0:1" in said
    assert "the back of the cove goes from 1.50 to 0.60 of the ceiling's brightest part" in said


def test_a_half_that_jumps_from_a_narrow_line_to_a_broad_band_is_explained():
    steps = [
        told(i, label, {
            "ceiling.average_lx": 300, "ceiling.max_lx": 900, "run.C1.ceiling.max_to_min": 5.0,
            "run.C1.ceiling.own_peak_m": 0.01, "run.C1.ceiling.half_m": half,
            "run.C1.ceiling.half_first_m": first, "run.C1.ceiling.second_m": 4.3,
            "run.C1.ceiling.second_over_peak": share,
        })
        for i, (label, first, half, share) in enumerate(
            [("4 in", 0.06, 0.06, 0.43), ("6 in", 0.09, 4.84, 0.59)]
        )
    ]  # fmt: skip
    sweep = swept("4in:6in:2in", "distance-below", "ceiling", ("C1",))
    assert (
        "half of C1's peak is left 0.06 m out at first and 4.84 m at last (it jumps from 4 in to "
        "6 in, where the light that rises again beyond a narrow bright line comes over half of it)"
    ) in sweep_sentence(sweep, steps, METRES)
    near, far = (step_sentence(sweep, step, METRES) for step in steps)
    assert "left 0.06 m out, the edge of a narrow bright line; beyond that it rises to 43 %" in near
    assert "left 4.84 m out for good: a narrow bright line ends 0.09 m out" in far


@pytest.mark.parametrize("count", [0, 1])
def test_nothing_is_compared_where_there_is_nothing_to_compare(count):
    steps = [wall(0, "2 in", zone=(1, 2), foot=9, average=90)][:count]
    said = sweep_sentence(swept(), steps, METRES)
    assert said == (
        "No step could be built."
        if count == 0
        else "Only setback 2 in could be built, so nothing is compared."
    )


def test_names_are_told_without_an_axis():
    steps = [
        wall(0, "graze-narrow", zone=(2.3, 2.7), foot=20, average=200),
        wall(1, "wash-flat", zone=(1.0, 2.0), foot=20, average=200),
    ]
    said = sweep_sentence(swept("graze-narrow,wash-flat", "file"), steps, METRES)
    assert said.startswith("From graze-narrow to wash-flat, the drama moves from the top 0.40 m")


def test_feet_and_inches_carry_both_units():
    steps = [
        wall(0, "2 in", zone=(2.3, 2.7), foot=20, average=200),
        wall(1, "6 in", zone=(0.6096, 1.5), foot=20, average=200),
    ]
    said = sweep_sentence(swept(), steps, Units("ft", "fc"))
    assert "heights of 2 ft to 4 ft 11 in" in said
    assert "1.9 fc" in said


def test_a_strip_shows_all_steps_or_seven_with_both_ends():
    assert chosen(5) == [0, 1, 2, 3, 4]
    assert chosen(7) == list(range(7))
    assert chosen(13) == [0, 2, 4, 6, 8, 10, 12]
    for count in range(8, 60):
        picked = chosen(count)
        assert picked[0] == 0
        assert picked[-1] == count - 1
        assert len(set(picked)) == 7
    codes = np.arange(40 * 60 * 3, dtype=np.uint8).reshape(40, 60, 3)
    assert upright_slice(codes, 4.2, 36.1).shape == (32, 16, 3)
