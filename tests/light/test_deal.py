"""Pieces of work dealt to threads: each done once, and none left with the cheap half."""

import numpy as np
import pytest

from rakelight.light.kernels.deal import HANDS, dealt


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 7, 8, 63, 64, 1081])
def test_every_piece_has_one_turn(count):
    assert sorted(dealt(turn, count) for turn in range(count)) == list(range(count))


@pytest.mark.parametrize("threads", [2, HANDS])
def test_threads_have_as_much_of_the_dear_end_as_of_the_cheap_one(threads):
    count = 1000
    pieces = np.array([dealt(turn, count) for turn in range(count)])
    cost = np.linspace(0, 1, count)  # rows nearer to the run cost more
    shares = [cost[run].sum() / cost.sum() for run in np.array_split(pieces, threads)]
    np.testing.assert_allclose(shares, 1 / threads, rtol=0.005)
