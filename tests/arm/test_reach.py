"""How far an arm reaches, against random postures and an optimizer that knows nothing of it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from pathsim.arm import Arm, Dimensions
from pathsim.arm.reach import reach
from pathsim.transforms import pose, rotation_about, translation
from tests.builders import offset_wrist_arm, puma, rail_arm, shop_arm


def away(arm, point_of):
    """Distance of a point from axis 1 as a function of joints."""

    def distance(q):
        axis = arm.axis_frames(q)[1 if arm.has_rail else 0]
        return float(np.linalg.norm(np.cross(axis[:3, 2], point_of(q) - axis[:3, 3])))

    return distance


def climbed(arm, point_of, seed=0, starts=12):
    """The largest distance that an optimizer finds from random postures."""
    rng, distance = np.random.default_rng(seed), away(arm, point_of)
    best = 0.0
    for _ in range(starts):
        q = rng.uniform(-np.pi, np.pi, arm.dof)
        found = minimize(lambda q: -distance(q), q, method="BFGS", options={"gtol": 1e-9})
        best = max(best, -float(found.fun))
    return best


def test_the_textbook_arm_reaches_877_mm():
    """Corke, Robotics toolbox, mdl_puma560: 431.8 + |20.3, 431.8| = 864.1 ahead, 150.05 aside."""
    found = reach(puma(), np.eye(4))
    assert found.wrist == pytest.approx(np.hypot(0.4318 + np.hypot(0.0203, 0.4318), 0.15005))
    assert found.wrist == pytest.approx(0.8770, abs=5e-5) and found.is_exact


@settings(max_examples=6, deadline=None)
@given(
    st.floats(-0.3, 0.3), st.floats(-0.3, 0.3), st.floats(0.2, 0.8), st.floats(-0.2, 0.2),
    st.floats(0.2, 0.8), st.floats(0.0, 0.2),
)  # fmt: skip
def test_dimension_arms(ahead, side, upper, elbow, forearm, flange):
    arm = Arm.from_dimensions(Dimensions(0.4, ahead, upper, elbow, forearm, flange, side))
    tool = translation([0.1, 0.02, 0.3])
    found = reach(arm, tool)
    closed = np.hypot(abs(ahead) + upper + np.hypot(forearm, elbow), side)
    assert found.wrist == pytest.approx(closed, rel=1e-12)
    assert found.flange == pytest.approx(closed + flange, rel=1e-12)
    assert found.tip == pytest.approx(closed + np.linalg.norm([0.1, 0.02, 0.3 + flange]), rel=1e-12)
    rng = np.random.default_rng(1)
    q = rng.uniform(-np.pi, np.pi, (4000, 6))
    tips = (arm.pose(q) @ tool)[:, :3, 3]
    assert np.hypot(tips[:, 0], tips[:, 1]).max() <= found.tip + 1e-12
    best = climbed(arm, lambda q: (arm.pose(q) @ tool)[:3, 3], starts=6)
    assert best == pytest.approx(found.tip, abs=2e-5)


def test_axis_two_slanted_to_axis_one():
    """A closed form no more: the farthest place of a circle, against the optimizer."""
    arm = shop_arm()
    fixed = np.array(arm.fixed)
    fixed[1] = fixed[1] @ pose(rotation_about([1.0, 0.0, 0.0], 0.35), np.zeros(3))
    slanted = Arm.from_chain(fixed, arm.ends)
    found = reach(slanted, np.eye(4))
    best = climbed(slanted, lambda q: slanted.axis_frames(q)[4][:3, 3])
    assert found.is_exact and found.wrist == pytest.approx(best, abs=1e-6)


def test_a_rail_adds_nothing_to_the_reach_from_axis_one():
    assert reach(rail_arm(), np.eye(4)).tip == pytest.approx(reach(shop_arm(), np.eye(4)).tip)


def test_other_arms_are_searched_and_bounded():
    """The search is never beyond what an optimizer can reach, and the bound never below it."""
    arm = offset_wrist_arm()
    found = reach(arm, np.eye(4))
    assert found.wrist is None and not found.is_exact
    best = climbed(arm, lambda q: arm.pose(q)[:3, 3])
    assert found.tip == pytest.approx(best, abs=1e-4) and found.tip <= found.most
