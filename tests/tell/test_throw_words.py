"""A narrow bright line by a cove and a broad band beyond it are both told."""

import math

import pytest

from rakelight.tell.throw_words import jump_words, second_words

NAN = math.nan


def metres(value):
    return f"{value:.2f} m"


def test_one_maximum_needs_no_words():
    assert second_words(NAN, 2.5, NAN, NAN, metres) == ""


@pytest.mark.parametrize(
    ("half", "says"),
    [
        (
            0.06,
            ", the edge of a narrow bright line; beyond that it rises to 43 % of its peak again "
            "4.28 m out",
        ),
        (
            4.84,
            " for good: a narrow bright line ends 0.06 m out, beyond which it rises to 43 % of its "
            "peak again 4.28 m out",
        ),
        (
            NAN,
            " for good: it falls to half 0.06 m out, the edge of a narrow bright line, but rises "
            "to 43 % of its peak again 4.28 m out",
        ),
    ],
)
def test_where_the_half_lies_is_said(half, says):
    assert second_words(0.06, half, 4.28, 0.43, metres) == says


def test_a_sweep_says_where_and_why_the_half_jumps():
    labels = ["2 in", "4 in", "6 in"]
    said = jump_words(labels, [0.04, 0.06, 0.09], [0.04, 0.06, 4.84])
    assert said.startswith("it jumps from 4 in to 6 in, where the light that rises again")
    assert said.endswith("beyond a narrow bright line comes over half of it")
    back = jump_words(labels, [0.09, 0.06, 0.04], [4.84, 0.06, 0.04])
    assert back.startswith("it jumps from 2 in to 4 in")
    assert back.endswith("falls under half of it")
    assert jump_words(labels, [0.04, 0.06, 0.09], [4.04, 4.5, 4.84]) == ""
    assert jump_words(labels, [NAN] * 3, [0.5, 1.5, 2.5]) == ""
    assert jump_words(labels, [NAN, NAN, 0.09], [0.5, 1.5, 4.84]) == ""
