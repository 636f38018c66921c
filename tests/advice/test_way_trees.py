"""Trees grow by looks, and yet every move of a way was proved."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pathsim import load_cell
from pathsim.advice.way_trees import WayTrees

CELL = load_cell(Path(__file__).parents[2] / "sample_cells" / "gate_hinge")
HOME = CELL.points[CELL.program.start].q
#: From home to where the first joint is a radian farther, with a wall between in these joints.
THERE = HOME + np.eye(len(HOME))[0]


def is_clear(a, b):
    """Through the wall in the first joint leads only a window in the second."""
    q = a + np.linspace(0, 1, 200)[:, None] * (b - a) - HOME
    return not ((np.abs(q[:, 0] - 0.5) < 0.1) & (q[:, 1] < 0.4)).any()


def trees(look):
    return WayTrees(
        CELL, [HOME], [THERE], lambda moves: np.array([look(a, b) for a, b, *_ in moves]),
        lambda moves: np.array([0.0 if is_clear(a, b) else -1.0 for a, b, *_ in moves]), 0.0,
    )  # fmt: skip


@pytest.mark.parametrize("look", [is_clear, lambda *_: True], ids=["honest", "sees nothing"])
def test_each_move_of_a_way_is_proved_whatever_the_looks_said(look):
    way = trees(look).way(4000)
    assert way is not None and len(way) > 2
    assert np.array_equal(way[0], HOME) and np.array_equal(way[-1], THERE)
    assert all(is_clear(a, b) for a, b in pairwise(way))


def test_an_end_that_nothing_leaves_is_given_up_long_before_all_moves_are_asked():
    shut = trees(lambda a, b: not (np.array_equal(a, HOME) or np.array_equal(b, HOME)))
    assert shut.way(4000) is None
    assert shut.asked < 2000
