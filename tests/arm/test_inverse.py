"""Inverse kinematics: against forward, against an independent solver, on its boundaries."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.arm import Arm, Dimensions, follower
from pathsim.arm.alignment import has_spherical_wrist, wrist_angle
from pathsim.arm.inverse import _distinct, at_all_turns, closed_form
from pathsim.errors import ArmError, ShapeError
from pathsim.transforms import pose
from tests.builders import HALF, OFFSET_WRIST_ROWS, SHOP_ROWS, puma, shop_arm

joints = arrays(float, 6, elements=st.floats(-3.1, 3.1))


def apart(a, b):
    """Largest difference of joint values, whole turns not counted."""
    gap = np.asarray(a) - np.asarray(b)
    return np.abs(gap - 2 * np.pi * np.round(gap / (2 * np.pi))).max(axis=-1)


@given(joints)
@settings(max_examples=200)
def test_every_solution_is_one_and_the_first_is_among_them(q):
    arm = Arm.from_dh(SHOP_ROWS, "standard")
    T = arm.pose(q)
    found = arm.inverse(T)
    np.testing.assert_allclose(arm.pose(found), np.broadcast_to(T, (len(found), 4, 4)), atol=1e-8)
    if wrist_angle(arm, q) > 1e-3:
        # at full stretch the cosine is flat, so joints come back to 1e-7 only
        assert apart(found, q).min() < 1e-6


def test_puma_has_eight_distinct_solutions():
    rng = np.random.default_rng(5)
    arm = puma()
    for q in rng.uniform(-3, 3, (200, 6)):
        found = arm.inverse(arm.pose(q))
        assert found.shape == (8, 6)
        gaps = [apart(found[i], found[j]) for i in range(8) for j in range(i)]
        assert min(gaps) > 1e-6
        assert apart(found, q).min() < 1e-9


def test_all_solutions_against_an_independent_solver():
    """The other solver stands upright at zero: joint 3 is a quarter turn on, the tool turned."""
    opw = pytest.importorskip("py_opw_kinematics", reason="no wheel for this platform")
    from scipy.spatial.transform import RigidTransform

    model = opw.KinematicModel(a1=0.16, a2=-0.13, b=0.0, c1=0.43, c2=0.59, c3=0.64, c4=0.1)
    robot = opw.Robot(model, degrees=False)
    arm = Arm.from_dh(SHOP_ROWS, "standard")
    shift = np.array([0, 0, HALF, 0, 0, 0])
    turn = np.diag([-1.0, -1.0, 1.0, 1.0])
    rng = np.random.default_rng(11)
    for q in rng.uniform(-2.5, 2.5, (300, 6)):
        T = arm.pose(q)
        np.testing.assert_allclose(robot.forward(q + shift).as_matrix() @ turn, T, atol=1e-9)
        expected = robot.inverse(RigidTransform.from_matrix(T @ turn))
        expected = np.array([s for s in expected if np.isfinite(s).all()]) - shift
        found = arm.inverse(T)
        assert len(expected) >= 2
        # It reports straight-armed rounding cases once or twice; ours must hold all of its.
        for solution in expected:
            assert apart(found, solution).min() < 1e-6
        for solution in found:
            assert apart(expected, solution).min() < 1e-6


def test_turns_within_limits_all_come():
    limits = np.array([[-np.pi, np.pi]] * 5 + [[-2 * np.pi, 2 * np.pi]])
    arm = shop_arm(limits)
    q = np.array([0.3, 0.2, 0.1, 0.4, 1.0, 1.0])
    found = arm.inverse(arm.pose(q))
    for turn in (1.0, 1.0 - 2 * np.pi):
        assert np.abs(found - [*q[:5], turn]).max(axis=1).min() < 1e-9
    assert arm.within_limits(found).all()


def test_limits_drop_solutions():
    narrow = np.array([[-0.5, 0.5], [-0.5, 0.5], [-0.5, 0.5], [-0.5, 0.5], [0.1, 1.5], [-1, 1]])
    arm = shop_arm(narrow)
    q = np.array([0.3, 0.2, 0.1, 0.4, 1.0, 0.5])
    found = arm.inverse(arm.pose(q))
    np.testing.assert_allclose(found, [q], atol=1e-9)


def test_out_of_reach_is_empty():
    assert shop_arm().inverse(pose(np.eye(3), [3.0, 0, 0])).shape == (0, 6)


def test_aligned_wrist_keeps_the_sum():
    arm = shop_arm()
    q = np.array([0.2, 0.3, -0.2, 0.7, 0.0, 0.4])
    found = arm.inverse(arm.pose(q))
    close = found[np.abs(found[:, :3] - q[:3]).max(axis=1) < 1e-6]
    assert len(close) >= 1
    np.testing.assert_allclose(apart(arm.pose(close).reshape(-1, 16),
                                     arm.pose(q).reshape(-1, 16)), 0, atol=1e-9)  # fmt: skip


def test_offset_wrist_is_found_by_search():
    arm = Arm.from_dh(OFFSET_WRIST_ROWS, "standard")
    assert not has_spherical_wrist(arm)
    rng = np.random.default_rng(7)
    for q in rng.uniform(-2.5, 2.5, (5, 6)):
        T = arm.pose(q)
        found = arm.inverse(T)
        np.testing.assert_allclose(arm.pose(found), np.broadcast_to(T, (len(found), 4, 4)),
                                   atol=1e-8)  # fmt: skip
        assert apart(found, q).min() < 1e-6


def test_follower_keeps_its_branch_along_a_path():
    arm = shop_arm()
    start, end = (
        np.array([0.2, 0.3, 0.1, 0.3, -1.0, 5.0]),
        np.array([0.4, 0.2, 0.3, 0.5, -0.7, 5.5]),
    )
    solve = follower(arm, start)
    q = start
    for s in np.linspace(0, 1, 30):
        true = start + s * (end - start)
        found, solved = solve(arm.pose(true)[None], q[None])
        assert solved[0]
        np.testing.assert_allclose(found[0], true, atol=1e-9)
        q = found[0]


def test_wrist_angle_is_joint_five():
    arm = shop_arm()
    for angle in (0.0, 1e-6, 0.1, HALF, np.pi - 0.1):
        q = [0.3, 0.1, 0.2, 0.5, angle, 1.0]
        assert wrist_angle(arm, q) == pytest.approx(min(angle, np.pi - angle), abs=1e-9)


@pytest.mark.parametrize("middle", ["turns", "slides"])
def test_wrist_angle_is_that_of_the_axes_as_they_stand(middle):
    """Whatever arm it is: held against the lines of both joints in the base."""
    rng = np.random.default_rng(11)
    for _ in range(30):
        low = np.array([-0.5, -np.pi, -0.5, -np.pi])
        slides = [False] * 4 + [middle == "slides", False]
        arm = Arm.from_dh(rng.uniform(low, -low, (6, 4)), "modified", prismatic=slides)
        q = rng.uniform(-3, 3, (4, 5, 6))
        z = arm.axis_frames(q)[..., :3, 2]
        angle = np.arccos(np.clip(np.abs((z[..., 3, :] * z[..., 5, :]).sum(-1)), 0, 1))
        assert wrist_angle(arm, q).shape == (4, 5)
        np.testing.assert_allclose(wrist_angle(arm, q), angle, atol=1e-7)


def test_refuses_what_is_no_pose():
    with pytest.raises(ShapeError, match="not finite"):
        shop_arm().inverse(np.full((4, 4), np.nan))
    with pytest.raises(ArmError, match="one pose"):
        shop_arm().inverse(np.tile(np.eye(4), (2, 1, 1)))


def random_drawing(rng):
    side = rng.choice([0.0, rng.uniform(-0.1, 0.1)])
    lengths = rng.uniform([0.2, 0.0, 0.3, -0.1, 0.3, 0.05], [0.6, 0.3, 0.9, 0.25, 1.0, 0.15])
    return Dimensions(*lengths, shoulder_side=side)


def special_posture(rng, case):
    """Random, or with the wrist, the elbow or the shoulder near its singularity, or turned far."""
    q = rng.uniform(-2.5, 2.5, 6)
    if case == 1:
        q[4] = rng.choice([1e-5, -1e-4, 1e-3, np.pi - 1e-4])
    elif case == 2:
        q[2] = -HALF + rng.choice([1e-4, -1e-3, 0.02])
    elif case == 3:
        q[1], q[2] = rng.uniform(-0.05, 0.05), -HALF + rng.uniform(-0.05, 0.05)
    elif case == 4:
        q = rng.choice([-1, 1], 6) * (np.pi - rng.uniform(0, 1e-3, 6))
    return q


def test_a_thousand_random_arms_against_an_independent_solver():
    """Dimension drawings of all sizes; singular and far-turned postures included."""
    opw = pytest.importorskip("py_opw_kinematics", reason="no wheel for this platform")
    from scipy.spatial.transform import RigidTransform

    rng = np.random.default_rng(17)
    shift = np.array([0, 0, HALF, 0, 0, 0])
    compared = 0
    for count in range(1000):
        size, q = random_drawing(rng), special_posture(rng, count % 5)
        arm = Arm.from_dimensions(size)
        model = opw.KinematicModel(
            a1=size.shoulder_offset, a2=-size.elbow_offset, b=size.shoulder_side,
            c1=size.shoulder_height, c2=size.upper_arm, c3=size.forearm, c4=size.flange,
        )  # fmt: skip
        robot = opw.Robot(model, degrees=False)
        T = arm.pose(q)
        # The other solver counts joint 3 from the upper arm's line; its tool frame is turned.
        theirs = robot.forward(q + shift).as_matrix()
        turn = np.linalg.inv(arm.pose(np.zeros(6))) @ robot.forward(shift).as_matrix()
        np.testing.assert_allclose(T @ turn, theirs, atol=1e-9)
        expected = robot.inverse(RigidTransform.from_matrix(T @ turn))
        expected = np.array([s for s in expected if np.isfinite(s).all()]) - shift
        found = arm.inverse(T)
        np.testing.assert_allclose(arm.pose(found), np.broadcast_to(T, (len(found), 4, 4)),
                                   atol=1e-6)  # fmt: skip
        real = np.array([row for row in expected if np.abs(arm.pose(row) - T).max() < 1e-7])
        assert len(real) > 0
        for ours, theirs_too in ((found, real), (real, found)):
            for row in ours:
                # Near alignment joints 4 and 6 trade turns: there only the others are compared.
                columns = [0, 1, 2, 4] if abs(np.sin(row[4])) < 2e-3 else range(6)
                assert apart(theirs_too[:, columns], row[columns]).min() < 1e-3
                compared += 1
    assert compared > 8000


def test_a_pose_that_is_rounded_keeps_all_its_solutions():
    """As far off a rotation as a pose may be given: what is told of it is held against no more."""
    arm, rng, looked = shop_arm(), np.random.default_rng(9), 0
    for k in range(300):
        q = rng.uniform(-1.5, 1.5, 6)
        if k % 3 == 0:
            q[4] = rng.choice([0.0, 1e-7, 1e-4])  # a wrist that is in line
        T = arm.pose(q)
        T[:3, :3] += rng.normal(0.0, 3e-7, (3, 3))
        try:
            found = arm.inverse(T)
        except ShapeError:
            continue
        rows, exists = closed_form(arm).solve(T[None], 0.0)
        assert len(found) == len(at_all_turns(arm, _distinct(arm, rows[0][exists[0]])))
        looked += 1
    assert looked > 150
