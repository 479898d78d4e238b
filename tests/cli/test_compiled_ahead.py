"""Kernels compiled in a second process are those that a still calls, for the same arguments."""

import subprocess
import sys

from click.testing import CliRunner
from numba.core import event

from rakelight.cli import main
from rakelight.cli.compiled_ahead import USUAL, argument_types, compiled_ahead, dispatcher


def test_every_kernel_compiled_ahead_is_called_by_a_still_with_those_arguments(tmp_path):
    coarse = ("--set", "quality.mesh_step=60 mm", "--size", "96x54", "--out", str(tmp_path))
    done = CliRunner().invoke(main, ["still", "ticket-hall-graze", *coarse])
    assert done.exit_code == 0, done.output
    for place, words in USUAL.items():
        assert argument_types(words) in dispatcher(place).signatures, place


def test_the_second_process_starts_once_something_compiles_and_ends_with_it(monkeypatch):
    started = []

    class Process:
        def __init__(self, command, **_):
            started.append(command)
            self.ended = 0

        def terminate(self):
            self.ended += 1

        def wait(self):
            assert self.ended == 1
            started.append("ended")

    monkeypatch.setattr(subprocess, "Popen", Process)
    monkeypatch.setattr("numba.config.NUMBA_NUM_THREADS", 2)
    with compiled_ahead():
        assert started == []  # everything is at hand: no second process
        for _ in range(2):
            with event.trigger_event("numba:compile"):
                assert len(started) == 1
    assert started == [[sys.executable, "-m", "rakelight.cli.compiled_ahead"], "ended"]
