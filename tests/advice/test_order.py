"""Mistakes of the shop around the order of moves and weld points: what advice says and leaves."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.advice import Evaluator, advise, changed
from pathsim.advice.no_point import INSTEAD, OF_POINTS, no_point
from pathsim.advice.order import misled, unused_points
from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.files import load_cell
from pathsim.findings import Finding, FindingKind, Level
from pathsim.findings.weld_places import weld_points
from pathsim.motion import plan_program
from pathsim.session import Session

SAMPLES = Path(__file__).parents[2] / "sample_cells"
HINGE = load_cell(SAMPLES / "gate_hinge")
MOVES = HINGE.program.moves


def with_moves(*moves, points=None):
    program = replace(HINGE.program, moves=tuple(moves))
    return replace(HINGE, program=program, points=HINGE.points if points is None else points)


def to(index, target):
    """The move of the sound program with another target."""
    return replace(MOVES[index], target=target)


def second_name(of, name, shift=0.0):
    """A point taught once more at one place, some of its joint values a hair off."""
    q = HINGE.points[of].q.copy()
    q[5] += shift
    return {**HINGE.points, name: replace(HINGE.points[of], name=name, q=q)}


def grave(result):
    return [f for f in result.findings if f.level.at_least(Level.WATCH)]


def assert_welds_stay(before, after):
    """Held by the joint values of all seams, and the places of all weld points."""
    old, new = ([t for t in plan_program(c).tracks if t.move.arc_on] for c in (before, after))
    assert len(old) == len(new)
    for a, b in zip(old, new, strict=True):
        assert np.allclose(a.q, b.q, atol=1e-7)
        assert (a.move.speed, a.move.weave, a.move.crater) == (
            b.move.speed, b.move.weave, b.move.crater,
        )  # fmt: skip
    for name in weld_points(before):
        assert np.array_equal(before.points[name].q, after.points[name].q)


#: Programs in which one line goes to a weld, or a point is left out; the kind of the cure, the
#: point that it uses, and what is said.
ONE_LINE = {
    "back to the weld start": (
        with_moves(*MOVES[:3], to(3, "weld start"), MOVES[4]),
        "order", "retract", "The program goes back to 'weld start' after the weld. Did you mean",
    ),
    "once more to the weld end": (
        with_moves(*MOVES[:3], to(3, "weld end"), MOVES[4]),
        "order", "retract", "The program goes back to 'weld end' after the weld. Did you mean",
    ),
    "to the weld end under its second name": (
        with_moves(*MOVES[:3], to(3, "weld end 2"), MOVES[4],
                   points=second_name("weld end", "weld end 2")),
        "order", "retract", "The program goes back to 'weld end 2' after the weld. Did you mean",
    ),
    "the line of the retract is missing": (
        with_moves(*MOVES[:3], MOVES[4]),
        "retract", "retract", "'retract' is taught and not used: leave the weld for it",
    ),
    "the line of the approach is missing": (
        with_moves(to(0, "weld start"), *MOVES[2:]),
        "approach", "approach", "'approach' is taught and not used: go there first in move 1",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ONE_LINE)
def test_one_wrong_line_is_named_and_the_taught_point_is_used(name):
    cell, kind, point, words = ONE_LINE[name]
    evaluator = Evaluator(cell, Session())
    assert unused_points(cell) == [point]
    advice = advise(evaluator)
    assert advice and all(one.proposals for one in advice)
    for one in advice:
        best = one.proposals[0]
        assert (best.kind, dict(best.change.points)) == (kind, {})
        assert words in best.text
        for proposal in one.proposals:
            assert_welds_stay(cell, changed(cell, proposal.change))
    after = changed(cell, best.change)
    assert point in {move.target for move in after.program.moves}
    assert grave(check(after, engine=ReferenceEngine(after))) == []


def test_where_nothing_else_is_taught_the_order_is_said_and_no_weld_moves():
    points = {name: p for name, p in HINGE.points.items() if name != "retract"}
    cell = with_moves(*MOVES[:3], to(3, "weld start"), MOVES[4], points=points)
    for one in advise(Evaluator(cell, Session())):
        assert not one.proposals
        assert one.never == (
            "The program goes back to 'weld start' after the weld. Let move 4 go to a retract "
            "point clear of the part."
        )


@pytest.mark.parametrize(
    ("moves", "says"),
    [
        ((MOVES[0], MOVES[1], MOVES[3], MOVES[2], MOVES[4]), "move 4 starts at 'retract', off"),
        ((to(0, "weld start"), to(1, "approach"), *MOVES[2:]), "move 3 starts at 'approach', off"),
    ],
)
def test_two_lines_the_wrong_way_round_are_told_and_nothing_taught_is_moved(moves, says):
    """The program has no seam from 'weld start', and yet it is one: the wire is at the part."""
    cell = with_moves(*moves)
    advice = advise(Evaluator(cell, Session()))
    told = [one for one in advice if says in one.never]
    assert len(told) >= 6
    for one in told:
        assert "goes to 'weld start' and welds nothing from there" in one.never
        assert not one.proposals
    for one in advice:
        for proposal in one.proposals:
            assert (
                not set(proposal.change.points)
                & {"weld start", "weld end", "retract"}
                & set(weld_points(cell))
            )
            assert_welds_stay(cell, changed(cell, proposal.change))


def test_a_second_pass_from_the_weld_start_is_in_order():
    cell = with_moves(*MOVES[:4], MOVES[0], *MOVES[1:])
    assert [misled(cell, index) for index in range(len(cell.program.moves))] == [None] * 9
    assert unused_points(cell) == []
    assert advise(Evaluator(cell, Session())) == ()


def test_the_point_that_serves_is_taken_and_another_that_does_not_is_not():
    """An unused point inside the clamp's reach is tried and left; the one that clears is used."""
    low = replace(HINGE.points["weld end"], name="low", q=HINGE.points["retract"].q * 0.2
                  + HINGE.points["weld end"].q * 0.8)  # fmt: skip
    points = {"low": low, **HINGE.points}
    cell = with_moves(*MOVES[:3], to(3, "weld start"), MOVES[4], points=points)
    evaluator = Evaluator(cell, Session())
    assert unused_points(cell) == ["low", "retract"]
    texts = [p.text for one in advise(evaluator) for p in one.proposals]
    assert texts and all("'retract'" in text and "'low'" not in text for text in texts)


def test_what_no_point_cures_is_told_by_its_kind():
    result = check(HINGE)
    for kind in FindingKind:
        said = no_point(result, Finding(Level.WATCH, kind, "whatever the words", 3))
        if kind in OF_POINTS:
            assert "No cure is searched" in said
        else:
            assert said.startswith("No taught point fixes this. ") and said.endswith(".")
    assert not set(OF_POINTS) & set(INSTEAD)


def test_a_finding_that_no_point_cures_is_not_counted_as_cured(monkeypatch):
    """A change that makes it go was not made for it: it may only have moved what it speaks of."""
    cell, *_ = ONE_LINE["the line of the retract is missing"]
    evaluator = Evaluator(cell, Session())
    bystander = Finding(Level.WATCH, FindingKind.UNLIKELY_BODY, "a body of 3 m", None, 0.0)
    findings = (*evaluator.before.findings, bystander)
    monkeypatch.setattr(evaluator, "before", replace(evaluator.before, findings=findings))
    advice = advise(evaluator)
    assert advice[-1].finding is bystander and not advice[-1].proposals
    assert "Check the unit of its mesh" in advice[-1].never
    for one in advice[:-1]:
        assert all(bystander not in proposal.cures for proposal in one.proposals)
