"""Lowering two points at once: neither may go a step lower in what comes out."""

import numpy as np
import pytest

from pathsim.advice.lifts import STEP, _heights, _lowered


@pytest.mark.parametrize(
    ("need_a", "need_b"), [(3, 3), (3, 12), (12, 3), (1, 9), (9, 1), (0, 0), (20, 20)]
)
def test_each_point_comes_down_to_what_it_needs(need_a, need_b):
    grid = _heights()

    def clears(a, b):
        return a >= grid[need_a] - 1e-12 and b >= grid[need_b] - 1e-12

    start = grid[max(need_a, need_b)]
    assert _lowered(clears, (start, start)) == (grid[need_a], grid[need_b])


def test_where_the_two_need_each_other_it_ends_where_neither_can_go_lower():
    grid = _heights()

    def clears(a, b):
        return a + b >= 0.1 - 1e-12 and a >= 0.02 - 1e-12

    a, b = _lowered(clears, (grid[11], grid[11]))
    assert clears(a, b)
    assert not clears(a - STEP, b)
    assert not clears(a, b - STEP)


def test_heights_are_on_the_grid_up_to_the_highest():
    assert np.allclose(np.diff(_heights()), STEP)
    assert _heights()[0] == STEP and _heights()[-1] == pytest.approx(0.40)
