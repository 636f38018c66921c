"""The whole program: what serves several seams is taught once, and the order stays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pathsim.advice import Evaluator, advise, best_first, changed, that_go_together, whole_program
from pathsim.advice.change import Change
from pathsim.advice.whole import _without
from pathsim.files import load_cell
from pathsim.findings.places import joints_at
from pathsim.model import Move, MoveKind, Point
from pathsim.session import Session
from pathsim.transforms import frozen
from tests.advice.test_advise import SAMPLES, by_reference, grave


def with_point_between(cell, name, share):
    """A point on the seam, ``share`` of the way from its start to its end."""
    ends = [cell.points[n].q for n in ("weld start", "weld end")]
    T = cell.tool_poses(np.stack(ends))
    there = T[0].copy()
    there[:3, 3] += share * (T[1, :3, 3] - T[0, :3, 3])
    q = joints_at(cell, there, ends[0])
    assert q is not None
    return replace(cell, points={**cell.points, name: Point(name, frozen(q), None)})


@pytest.fixture(scope="module")
def two_ends():
    """Two seams that end 24 mm apart, and no retract behind either."""
    cell = with_point_between(load_cell(SAMPLES / "gate_hinge_no_retract"), "short end", 0.8)
    moves = cell.program.moves
    again = [*moves[:-2], replace(moves[-2], target="short end"), moves[-1]]
    cell = replace(cell, program=replace(cell.program, moves=(*moves, *again)))
    evaluator = Evaluator(cell, Session())
    return evaluator, advise(evaluator)


def test_one_retract_serves_two_seams_that_end_near_each_other(two_ends):
    evaluator, advice = two_ends
    best = best_first(advice)
    assert len(best) == 2 and all(len(p.change.points) == 1 for p in best)
    chosen, change, left = that_go_together(evaluator, best)
    assert chosen == best and not left
    assert len(change.points) == 1 and len(change.moves) == 2
    (name,) = change.points
    assert {move.target for _, move in change.moves} == {name}
    after = changed(evaluator.cell, change)
    assert not grave(by_reference(after))
    kept = [m.target for m in after.program.moves if m.target != name]
    assert kept == [m.target for m in evaluator.cell.program.moves]  # in the order it had


def test_what_serves_both_is_said(two_ends):
    evaluator, advice = two_ends
    whole, left = whole_program(evaluator, advice)
    (name,) = whole.change.points
    assert not left and whole.kind == "together"
    assert f"'{name}' is taught once and serves 'weld end' and 'short end'." in whole.evidence
    assert "1 point to teach, 2 moves to put in" in whole.text
    assert {id(f) for f in whole.cures} == {id(f) for f in grave(evaluator.before)}


def test_one_proposal_alone_is_no_whole_program():
    evaluator = Evaluator(load_cell(SAMPLES / "gate_hinge_no_retract"), Session())
    assert whole_program(evaluator, advise(evaluator)) == (None, [])


def test_a_move_from_a_point_to_itself_is_left_out_or_not_made():
    cell = load_cell(SAMPLES / "gate_hinge")
    q = cell.points["retract"].q
    joint = cell.program.moves[-1]
    last = len(cell.program.moves) - 1
    new = [Move(MoveKind.JOINT, name, joint.speed) for name in ("a", "b")]
    change = Change(cell, {"a": q, "b": q + 0.01}, tuple((last, move) for move in new))
    less = _without(change, "b", "a")
    assert [m.target for _, m in less.moves] == ["a"] and list(less.points) == ["a"]
    # A line of the program itself is never left out: it would go from home to home.
    home = Change(cell, {"a": q}, ((last, new[0]),))
    assert _without(home, "a", "home") is None
    assert _without(home, "a", "approach") is not None
