"""Work grows with the number of air moves that hit, and not faster; it can be stopped between."""

from dataclasses import replace

import pytest

from pathsim.advice import Evaluator, advise
from pathsim.session import Session
from tests.advice.clamps import with_clamp_in_the_way


def _again(count):
    """A program with a clamp in the way of its air moves, run so often in a row."""
    cell, _ = with_clamp_in_the_way("gate_hinge", 0)
    moves = cell.program.moves * count
    return Evaluator(replace(cell, program=replace(cell.program, moves=moves)), Session())


def test_trials_and_whole_checks_grow_as_the_moves_do():
    work = []
    for count in (1, 3):
        evaluator = _again(count)
        cured = sum(bool(one.proposals) for one in advise(evaluator))
        work.append((cured, evaluator.trials, len(evaluator._full)))
    (cured, trials, full), (more_cured, more_trials, more_full) = work
    assert cured > 0 and more_cured >= 3 * cured
    assert more_trials <= 3 * trials + 10
    assert more_full <= 3 * full + 3


def test_a_search_is_told_of_between_findings_and_can_be_stopped_there():
    evaluator, seen = _again(2), []

    def progress(_, share):
        seen.append(share)
        if len(seen) == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        advise(evaluator, progress)
    assert len(seen) == 2 and seen[0] < seen[1] < 1
