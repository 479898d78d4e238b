"""Jobs on several cores: order, faults, and an early end."""

import threading
import time
from itertools import pairwise

import numpy as np
import pytest

import rakelight.study.light_step as module
from rakelight.read.toml import read_scene
from rakelight.study import side_by_side
from rakelight.study.knobs import knob
from rakelight.study.ranges import parse_range
from rakelight.study.side_by_side import Stopped, in_order
from rakelight.study.step import step_of
from rakelight.study.sweep import plan_sweep, sweep_steps

COARSE = ["quality.mesh_step=60 mm", "quality.plane_step=600 mm", "quality.bounce=true"]


@pytest.fixture(autouse=True)
def _two_cores(monkeypatch):
    monkeypatch.setattr(side_by_side, "own_threads", lambda: 2)


def test_results_come_in_the_order_of_the_jobs_and_two_run_at_once():
    together = threading.Barrier(2, timeout=20)

    def first(stop):
        return 0

    def slow(stop):
        together.wait()
        time.sleep(0.05)
        return 2

    def quick(stop):
        together.wait()
        return 3

    assert list(in_order([first, 1, slow, quick, 4])) == [0, 1, 2, 3, 4]


def test_one_after_the_other_stays_in_this_thread():
    jobs = [lambda stop: threading.current_thread() for _ in range(3)]
    assert set(in_order(jobs, several=False)) == {threading.current_thread()}


def test_what_a_job_raises_comes_in_its_turn_and_ends_the_others():
    ended = []

    def fails(stop):
        raise KeyboardInterrupt

    def waits(stop):
        ended.append(stop.wait(20))
        raise Stopped

    found = in_order([lambda stop: 0, lambda stop: 1, fails, waits, lambda stop: 4])
    assert [next(found), next(found)] == [0, 1]
    with pytest.raises(KeyboardInterrupt):
        next(found)
    assert ended in ([], [True])  # not begun, or told to stop


def test_dimmed_steps_are_not_lit_again(monkeypatch):
    lit, direct = [], module.direct
    monkeypatch.setattr(module, "direct", lambda *g, **k: (lit.append(1), direct(*g, **k))[1])
    scene = read_scene("ticket-hall-graze", COARSE)
    sweep = plan_sweep(scene, [parse_range(knob("dim"), "20%:100%:40%", "mm")], camera=None)
    found = [step_of(outcome.files) for outcome in sweep_steps(sweep, lambda key: False)]
    averages = [step.value("main.flat.average_lx") for step in found]
    assert len(lit) == 1
    # equal steps of dim, equal steps of light
    np.testing.assert_allclose([b - a for a, b in pairwise(averages)], averages[1] - averages[0],
                               rtol=1e-4)  # fmt: skip
    assert averages[1] > averages[0]
