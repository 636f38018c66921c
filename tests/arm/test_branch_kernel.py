"""Which branch of the closed form a posture is on, against all solutions by plain numpy."""

import numpy as np
import pytest

from pathsim.arm.inverse import _branch_misses, branch_of, closed_form
from pathsim.arm.wrist_inverse import BRANCHES
from tests.builders import rail_arm, shop_arm


@pytest.mark.parametrize("make", [shop_arm, rail_arm])
def test_the_branch_is_the_one_whose_solution_the_posture_is(make):
    arm, rng = make(), np.random.default_rng(3)
    solver = closed_form(arm)
    low, high = np.maximum(arm.lower, -3.0), np.minimum(arm.upper, 3.0)
    seen = set()
    for k in range(400):
        q = rng.uniform(low, high)
        if k % 4 == 0:
            q[solver.first + 4] = rng.choice([0.0, 1e-8])  # a wrist that is in line
        T = arm.pose(q)
        found, exists = solver.solve(T[None], solver.held_value(q))
        gap = (found[0] - q)[:, solver.first :]
        gap = np.abs(gap - 2 * np.pi * np.round(gap / (2 * np.pi)))
        in_line = np.abs(np.sin(found[0][:, solver.first + 4])) < 1e-6
        gap[in_line, 3] = gap[in_line, 5] = 0.0
        wanted = np.where(exists[0], gap.max(axis=1), np.inf)
        misses = _branch_misses(solver, q, T)
        assert misses.shape == (BRANCHES,)
        near = np.isfinite(wanted)
        np.testing.assert_allclose(misses[near], wanted[near], rtol=0, atol=1e-9)
        assert np.isinf(misses[~near]).all() and wanted.min() < 1e-6
        branch = branch_of(solver, q)
        assert misses[branch] == misses.min()
        seen.add(branch)
    assert len(seen) == BRANCHES


def test_a_pose_out_of_reach_is_on_the_first_branch():
    solver = closed_form(shop_arm())
    T = np.eye(4)
    T[0, 3] = 20.0
    assert np.array_equal(_branch_misses(solver, np.zeros(6), T), np.zeros(BRANCHES))
