"""Arms of every build: dimension drawings, rails, slides, four to seven joints."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.arm import Arm, Dimensions
from pathsim.arm.alignment import has_spherical_wrist
from pathsim.errors import ArmError
from pathsim.transforms import inverse, pose, rotation_about
from tests.builders import HALF, OFFSET_WRIST_ROWS, rail_arm, shop_arm

SHOP = Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10)
OFFSET = Dimensions(0.42, 0.11, 0.56, 0.09, 0.62, 0.09, wrist_offset=0.07)
six = arrays(float, 6, elements=st.floats(-3.0, 3.0))


def apart(arm, a, b):
    """Largest difference of joint values, whole turns of turning joints not counted."""
    gap = np.asarray(a) - np.asarray(b)
    turned = gap - 2 * np.pi * np.round(gap / (2 * np.pi))
    return np.abs(np.where(arm.prismatic, gap, turned)).max(axis=-1)


def test_a_drawing_stands_as_it_is_drawn():
    """Places read off the drawing at zero, not off the code."""
    arm = Arm.from_dimensions(Dimensions(0.4, 0.1, 0.5, 0.05, 0.6, 0.08, 0.02, 0.03))
    zero = np.zeros(6)
    axes = arm.axis_frames(zero)
    directions = [[0, 0, 1], [0, 1, 0], [0, 1, 0], [1, 0, 0], [0, 1, 0], [1, 0, 0]]
    np.testing.assert_allclose(axes[:, :3, 2], directions, atol=1e-15)
    places = [[0, 0, 0], [0.1, 0.02, 0.4], [0.1, 0.02, 0.9], [0.1, 0.02, 0.95], [0.7, 0.02, 0.92]]
    np.testing.assert_allclose(axes[:5, :3, 3], places, atol=1e-12)
    T = arm.pose(zero)
    np.testing.assert_allclose(T[:3, 3], [0.78, 0.02, 0.92], atol=1e-12)
    np.testing.assert_allclose(T[:3, 2], [1, 0, 0], atol=1e-15)  # z out of the flange
    np.testing.assert_allclose(T[:3, 0], [0, 0, -1], atol=1e-15)  # x down
    # every joint turns the way the drawing says
    left = arm.pose([0.1, 0, 0, 0, 0, 0])[:3, 3]
    forward = arm.pose([0, 0.1, 0, 0, 0, 0])[:3, 3]
    down = arm.pose([0, 0, 0.1, 0, 0, 0])[:3, 3]
    nod = arm.pose([0, 0, 0, 0, 0.1, 0])[:3, 3]
    assert left[1] > 0.02 and forward[0] > 0.78 and down[2] < 0.92 and nod[2] < 0.92


def test_a_drawing_is_the_same_arm_as_its_rows():
    """Rows written by hand for the same lengths; only the flange is turned about itself."""
    by_rows, by_drawing = shop_arm(), Arm.from_dimensions(SHOP)
    # The rows' joints 4 and 6 turn the same way round, the flange's x points up instead of down.
    turn = pose(rotation_about([0, 0, 1.0], np.pi), np.zeros(3))
    for q in np.random.default_rng(4).uniform(-3, 3, (50, 6)):
        np.testing.assert_allclose(by_rows.pose(q), by_drawing.pose(q) @ turn, atol=1e-12)


@given(six, st.sampled_from([SHOP, OFFSET]))
@settings(max_examples=40, deadline=None)
def test_inverse_of_forward_for_drawings(q, size):
    arm = Arm.from_dimensions(size)
    T = arm.pose(q)
    found = arm.inverse(T)
    np.testing.assert_allclose(arm.pose(found), np.broadcast_to(T, (len(found), 4, 4)), atol=1e-7)
    assert has_spherical_wrist(arm) == (size is SHOP)
    if size is SHOP:
        assert len(found) >= 2


def random_chain(rng, kinds):
    """Rows with random lengths and a twist between all axes."""
    rows = [
        (rng.uniform(0.05, 0.5), rng.choice([-1, 1]) * rng.uniform(0.5, 1.6), rng.uniform(0, 0.4))
        for _ in kinds
    ]
    return Arm.from_dh(rows, "standard", prismatic=[k == "p" for k in kinds])


@pytest.mark.parametrize("kinds", ["rrrr", "rprr", "prrrr", "rrrrr", "rrprrr", "rrrrrrr"])
def test_inverse_finds_the_posture_it_came_from(kinds):
    """Four to seven joints, sliding ones among them; the held joint stays where it is told to."""
    rng = np.random.default_rng(len(kinds))
    for _ in range(4):
        arm = random_chain(rng, kinds)
        q = np.where(arm.prismatic, rng.uniform(0, 0.5, arm.dof), rng.uniform(-2, 2, arm.dof))
        T = arm.pose(q)
        held = None if arm.held is None else q[arm.held]
        found = arm.inverse(T, held=held)
        assert len(found) > 0
        assert apart(arm, found, q).min() < 1e-6
        for row in found:
            if arm.dof == 5:  # a turn about the tool's z is free
                np.testing.assert_allclose(arm.pose(row)[:3, 2:], T[:3, 2:], atol=1e-8)
            else:
                np.testing.assert_allclose(arm.pose(row), T, atol=1e-8)


def test_five_joints_point_the_wire_and_let_it_turn():
    arm = random_chain(np.random.default_rng(3), "rrrrr")
    tool = pose(rotation_about([0, 1.0, 0], 0.7), [0.1, 0.02, 0.3])
    q = np.array([0.3, -0.4, 0.6, 0.9, -0.5])
    free = pose(rotation_about([0, 0, 1.0], 1.0), np.zeros(3))
    T = arm.pose(q) @ tool @ free @ inverse(tool)  # the same place and wire, turned about it
    found = arm.inverse(T, T_flange_tcp=tool)
    assert apart(arm, found, q).min() < 1e-6
    assert len(arm.inverse(T)) == 0 or apart(arm, arm.inverse(T), q).min() > 1e-3


def test_a_rail_only_moves_the_base():
    arm, fixed = rail_arm(), shop_arm()
    q = np.random.default_rng(8).uniform(-2, 2, (20, 7))
    expected = fixed.pose(q[:, 1:])
    expected[:, 1, 3] += q[:, 0]
    np.testing.assert_allclose(arm.pose(q), expected, atol=1e-12)
    assert arm.joint_name(0) == "the rail" and arm.joint_name(1) == "joint 1"
    np.testing.assert_allclose(arm.link_poses(np.zeros(7))[1], np.eye(4), atol=1e-15)


def test_a_rail_keeps_all_eight_solutions_wherever_it_stands():
    arm = rail_arm(shop_arm())
    rng = np.random.default_rng(9)
    for q in rng.uniform(-1.5, 1.5, (30, 7)):
        found = arm.inverse(arm.pose(q), held=q[0])
        assert (found[:, 0] == q[0]).all()
        assert apart(arm, found, q).min() < 1e-8
        inner = shop_arm().inverse(arm.pose(q) - q[0] * np.eye(4)[:, 1:2] @ np.eye(4)[3:4])
        assert len(found) == len(inner)


def test_jacobian_against_differences_with_slides():
    rng = np.random.default_rng(10)
    for kinds in ("prrrrrr", "rprrrr", "rrrr", "rrprp"):
        arm = random_chain(rng, kinds)
        q, h = rng.uniform(-1, 1, arm.dof), 1e-6
        J = arm.jacobian(q)
        for i in range(arm.dof):
            step = np.zeros(arm.dof)
            step[i] = h
            a, b = arm.pose(q - step), arm.pose(q + step)
            np.testing.assert_allclose((b - a)[:3, 3] / (2 * h), J[:3, i], atol=1e-8)
            W = (b - a)[:3, :3] @ arm.pose(q)[:3, :3].T / (2 * h)
            np.testing.assert_allclose([W[2, 1], W[0, 2], W[1, 0]], J[3:, i], atol=1e-8)


@pytest.mark.parametrize(
    ("build", "says"),
    [
        (lambda: Arm.from_dh([(0, 0, 0.1), (0, 0, 0.2)], "standard"), "turn about one line"),
        (
            lambda: Arm.from_dh([(0.1, 0, 0.1), (0.2, 0, 0)], "standard", prismatic=[1, 1]),
            "slide along one line",
        ),
        (lambda: Dimensions(0.4, 0, 0, 0, 0.5, 0.1), "longer than nothing"),
        (lambda: Dimensions(np.nan, 0, 0.5, 0, 0.5, 0.1), "shoulder height"),
        (lambda: Arm.from_dh(OFFSET_WRIST_ROWS, "standard", held=2), "cannot be the held one"),
        (
            lambda: Arm.from_dh(OFFSET_WRIST_ROWS, "standard", prismatic=[True]),
            r"prismatic must be \(6,\)",
        ),
    ],
)
def test_refuses_builds_that_make_no_arm(build, says):
    with pytest.raises(ArmError, match=says):
        build()


def test_parallel_neighbours_apart_are_fine():
    assert Arm.from_dh([(0.3, 0, 0), (0.2, 0, 0), (0.1, HALF, 0)], "modified").dof == 3
