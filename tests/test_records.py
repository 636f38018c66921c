"""Copies and pickles of cells, trajectories and results: the same findings and texts after."""

import copy
import dataclasses
import gc
import io
import pickle
from enum import Enum
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

import pathsim
from pathsim.arm import Arm
from pathsim.clearance.profile import clearance_profile
from pathsim.errors import LineError
from pathsim.motion.kept_values import Kept, Lazy
from pathsim.records import FieldsOnly, without_collecting
from pathsim.report import result_as_json
from pathsim.report.text import print_result
from tests import builders

SAMPLES = Path(__file__).parents[1] / "sample_cells"
#: A touch and a weave; a rail, poses and postures; a turning table; a cable; an odd wrist.
CELLS = ("gate_hinge_no_retract", "hanging_rail", "turned_collar", "loose_cable", "offset_wrist")


def pickled(value):
    return pickle.loads(pickle.dumps(value))  # noqa: S301 - our own


WAYS = (copy.copy, copy.deepcopy, pickled)


@pytest.mark.parametrize("way", WAYS)
def test_an_error_of_a_line_comes_through_a_pipe(way):
    error = LineError(26, "weld end", "it is too short", "a longer one")
    other = way(error)
    assert (str(other), other.line, other.came) == (str(error), 26, "it is too short")


@pytest.fixture(scope="module")
def results():
    return {name: pathsim.check(pathsim.load_cell(SAMPLES / name)) for name in CELLS}


def text(result):
    console = Console(file=io.StringIO(), width=120)
    print_result(result, console)
    return console.file.getvalue()


def said(result):
    return text(result), result_as_json(result), result.placement, result.findings


@pytest.mark.parametrize("name", CELLS)
@pytest.mark.parametrize("way", WAYS)
def test_copied_result_says_the_same(results, name, way):
    other = way(results[name])
    assert other is not results[name]
    assert said(other) == said(results[name])


@pytest.mark.parametrize("way", WAYS)
def test_copied_cell_is_checked_the_same(results, way):
    result = results["gate_hinge_no_retract"]
    assert result_as_json(pathsim.check(way(result.cell))) == result_as_json(result)


@pytest.mark.parametrize("way", WAYS)
def test_copied_trajectory_moves_the_same(results, way):
    trajectory = results["turned_collar"].trajectory
    other = way(trajectory)
    assert other.t.tobytes() == trajectory.t.tobytes()
    assert other.q.tobytes() == trajectory.q.tobytes()
    assert other.slow_duration == trajectory.slow_duration
    for one, known in zip(other.tracks, trajectory.tracks, strict=True):
        assert (one.tip_length, one.detour, one.detour_time) == (
            known.tip_length,
            known.detour,
            known.detour_time,
        )
        assert one.fork.value == known.fork.value


def test_a_pickled_result_is_charted_as_before(results):
    """Moves and tracks are still one another's: else a chart would measure the program anew."""
    result = results["gate_hinge_no_retract"]
    other = pickled(result)
    assert all(a.track is b for a, b in zip(other.moves, other.trajectory.tracks, strict=True))
    profiles = [clearance_profile(r.cell, r.trajectory, moves=r.moves) for r in (result, other)]
    assert profiles[0].guaranteed.tobytes() == profiles[1].guaranteed.tobytes()


def test_what_was_worked_out_is_no_part_of_the_state(results):
    result = results["turned_collar"]
    assert {"axes", "arm_pieces"} <= set(vars(result.cell))  # the check worked them out
    for way in WAYS:
        assert set(vars(way(result.cell))) == {f.name for f in dataclasses.fields(result.cell)}
    fresh = pathsim.load_cell(SAMPLES / "turned_collar")
    assert len(pickle.dumps(result.cell)) == len(pickle.dumps(fresh))


@pytest.mark.parametrize("name", CELLS)
def test_arrays_come_back_read_only(results, name):
    """All that a pickle brings back and that was read-only before."""
    seen = list(_pairs(results[name], pickled(results[name]), set()))
    assert sum(isinstance(before, np.ndarray) for before, _ in seen) > 50
    for before, after in seen:
        if isinstance(before, np.ndarray):
            assert before.tobytes() == after.tobytes()
            assert before.flags.writeable or not after.flags.writeable


def _pairs(before, after, known):
    """All that two equal records hold, side by side."""
    if id(before) in known or isinstance(before, Enum | str | int | float | bool | type(None)):
        return
    known.add(id(before))
    assert type(before) is type(after)
    yield before, after
    if dataclasses.is_dataclass(before):
        for field in dataclasses.fields(before):
            yield from _pairs(getattr(before, field.name), getattr(after, field.name), known)
    elif isinstance(before, dict):
        for key in before:
            yield from _pairs(before[key], after[key], known)
    elif isinstance(before, list | tuple):
        for one, other in zip(before, after, strict=True):
            yield from _pairs(one, other, known)


def test_an_arm_comes_back_whole():
    arm = builders.rail_arm().with_shown_limits(np.tile([-2.0, 2.0], (7, 1)))
    other = pickled(arm)
    assert isinstance(other, Arm) and isinstance(other, FieldsOnly)
    q = np.linspace(-1, 1, 7)
    assert other.pose(q).tobytes() == arm.pose(q).tobytes()
    assert other.room(q).tobytes() == arm.room(q).tobytes()


def test_a_lazy_value_is_worked_out_once_and_travels_as_a_value():
    calls = []
    lazy = Lazy(lambda: calls.append(1) or 7)
    assert copy.copy(lazy) is lazy and copy.deepcopy(lazy) is lazy and not calls
    assert pickled(lazy).value == 7 and lazy.value == 7 and calls == [1]


def test_what_is_kept_of_a_move_does_not_travel():
    kept = Kept()
    kept.once("a", object)
    other = pickled(kept)
    assert other.once("a", lambda: 5) == 5


def test_collecting_goes_on_as_it_was_after_many_records():
    assert gc.isenabled()
    with pytest.raises(ValueError, match="in between"), without_collecting():
        assert not gc.isenabled()
        raise ValueError("in between")
    assert gc.isenabled()
    gc.disable()
    try:
        with without_collecting():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
