"""Proposals on programs with stitches, a search, a table: welds, searches and stations stay."""

import pytest

from pathsim.advice import Evaluator, advise
from pathsim.findings.weld_places import fixed_points
from pathsim.session import Session
from tests.advice.clamps import with_clamp_in_the_way
from tests.benchmarks.hard_proofs import is_harmful


@pytest.mark.parametrize("name", ["hinge_stitched", "tilted_pipe", "search_beside_rib"])
def test_advice_cures_air_moves_and_leaves_everything_else_of_the_program(name):
    cell, _ = with_clamp_in_the_way(name, 1)
    evaluator = Evaluator(cell, Session())
    changes = {p.change for one in advise(evaluator) for p in one.proposals}
    assert changes
    for change in changes:
        assert not fixed_points(cell) & set(change.points)
        assert not is_harmful(evaluator, change)
