"""Checking beside the window: one at a time, the newest files win, faults are words."""

import threading
import time
from pathlib import Path

import pytest

import pathsim
from pathsim.errors import CannotCheck
from pathsim.scene import Scene
from pathsim.session import Session
from pathsim.view.recheck import Rechecks, what_changed

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def results():
    return [pathsim.check(pathsim.load_cell(SAMPLES / name))
            for name in ("gate_hinge_no_retract", "gate_hinge")]  # fmt: skip


def waited(rechecks):
    end = time.monotonic() + 60
    while rechecks.is_running:
        assert time.monotonic() < end
        time.sleep(0.01)
    return rechecks.take()


def test_asking_waits_for_nothing_and_the_newest_files_win(results):
    gate, calls = threading.Event(), []

    def reload():
        calls.append(len(calls))
        if len(calls) == 1:
            gate.wait(30)
        return results[len(calls) - 1]

    rechecks = Rechecks(reload, Session())
    start = time.perf_counter()
    for _ in range(3):  # saved again while the first check runs
        rechecks.ask()
    assert time.perf_counter() - start < 0.1 and rechecks.take() is None
    gate.set()
    found = waited(rechecks)
    assert calls == [0, 1]  # once for all that was saved meanwhile
    assert isinstance(found, Scene) and found.result is results[1]
    assert rechecks.take() is None


@pytest.mark.parametrize("error", [CannotCheck("cell.yaml:3 no"), RuntimeError("cell.yaml:3 no")])
def test_what_is_wrong_comes_as_words(error):
    def reload():
        raise error

    rechecks = Rechecks(reload, Session())
    rechecks.ask()
    assert "cell.yaml:3 no" in waited(rechecks)


def test_what_a_saving_changed_is_said(results):
    worse, better = results
    said = what_changed(worse, better)
    assert said.startswith("Checked again: 4 gone, ") and "longer" in said
    assert what_changed(better, worse).startswith("Checked again: 4 new, ")
    assert what_changed(worse, worse) == "Checked again: stop and watch findings as before."
