"""Forward kinematics and Jacobian against the textbooks' arm and an independent library."""

import modern_robotics as mr
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.arm import Arm
from pathsim.errors import ArmError, ShapeError
from tests.builders import HALF, OFFSET_WRIST_ROWS, PUMA_ROWS, SHOP_ROWS, puma, shop_arm

joints = arrays(float, 6, elements=st.floats(-np.pi, np.pi))
RY90 = np.array([[0, 0, 1], [0, 1, 0], [-1, 0, 0]], float)


# Positions: Corke, Robotics toolbox (mdl_puma560), run with two libraries and by hand product.
@pytest.mark.parametrize(
    ("q", "place", "R"),
    [
        ([0, 0, 0, 0, 0, 0], [0.4521, -0.15005, 0.4318], np.eye(3)),
        ([0, HALF, -HALF, 0, 0, 0], [0.0203, -0.15005, 0.8636], np.eye(3)),
        ([0, 0, -HALF, 0, 0, 0], [0.8636, -0.15005, -0.0203], RY90),
        (
            [0, np.pi / 4, np.pi, 0, np.pi / 4, 0],
            [0.596303149, -0.15005, -0.014354268],
            RY90,
        ),
        (
            [0.1, 0.2, 0.3, 0.4, 0.5, 0.6],
            [0.247802747, -0.125940181, 0.474457906],
            [
                [0.121697681, -0.606671726, -0.785582008],
                [0.818363825, 0.509197469, -0.266455603],
                [0.56166745, -0.610464868, 0.558446345],
            ],
        ),
    ],
)
def test_puma_poses(q, place, R):
    T = puma().pose(q)
    np.testing.assert_allclose(T[:3, 3], place, atol=1e-9)
    np.testing.assert_allclose(T[:3, :3], R, atol=1e-9)


def test_puma_jacobian():
    # Four digits also in Corke, Robotics, Vision and Control (from memory).
    expected = np.array(
        [
            [0.15005, 0.014354268, 0.319682976, 0, 0, 0],
            [0.596303149, 0, 0, 0, 0, 0],
            [0, 0.596303149, 0.29097444, 0, 0, 0],
            [0, 0, 0, 0.707106781, 0, 1],
            [0, -1, -1, 0, -1, 0],
            [1, 0, 0, -0.707106781, 0, 0],
        ]
    )
    J = puma().jacobian([0, np.pi / 4, np.pi, 0, np.pi / 4, 0])
    np.testing.assert_allclose(J, expected, atol=1e-9)
    assert np.linalg.det(J) == pytest.approx(-0.078617165, abs=1e-9)
    J = puma().jacobian([0.1, 0.2, 0.3, 0.4, 0.5, 0.6])
    assert np.linalg.det(J) == pytest.approx(0.020272795, abs=1e-9)


@given(joints)
def test_puma_determinant_factorises(q):
    # |det J| = a2 |d4 c3 + a3 s3| |a2 c2 + a3 c23 - d4 s23| |sin q5|, exact for this arm.
    a2, a3, d4 = 0.4318, 0.0203, 0.4318
    s, c = np.sin, np.cos
    elbow = abs(d4 * c(q[2]) + a3 * s(q[2]))
    shoulder = abs(a2 * c(q[1]) + a3 * c(q[1] + q[2]) - d4 * s(q[1] + q[2]))
    expected = a2 * elbow * shoulder * abs(s(q[4]))
    assert abs(np.linalg.det(puma().jacobian(q))) == pytest.approx(expected, abs=1e-12)


def test_lynch_and_park_six_joints():
    # Modern Robotics, Example 4.5 (number from memory): dimensions and poses of the book.
    W1, W2, L1, L2, H1, H2 = 0.109, 0.082, 0.425, 0.392, 0.089, 0.095
    M = np.array([[-1, 0, 0, L1 + L2], [0, 0, 1, W1 + W2], [0, 1, 0, H1 - H2], [0, 0, 0, 1.0]])
    S = np.array(
        [
            [0, 0, 1, 0, 0, 0],
            [0, 1, 0, -H1, 0, 0],
            [0, 1, 0, -H1, 0, L1],
            [0, 1, 0, -H1, 0, L1 + L2],
            [0, 0, -1, -W1, L1 + L2, 0],
            [0, 1, 0, H2 - H1, 0, L1 + L2],
        ],
        float,
    ).T
    rows = [
        (0, -HALF, H1),
        (L1, 0, 0),
        (L2, 0, 0),
        (0, -HALF, W1),
        (0, HALF, H2),
        (0, 0, W2),
    ]
    arm = Arm.from_dh(rows, "standard")
    # The rows' last frame is the book's turned about itself; read the turn off at zero.
    turn = np.linalg.inv(arm.pose(np.zeros(6))) @ M
    np.testing.assert_allclose(turn[:3, 3], 0, atol=1e-12)
    q = np.array([0, -HALF, 0, 0, HALF, 0])
    expected = [[0, -1, 0, 0.095], [1, 0, 0, 0.109], [0, 0, 1, 0.988], [0, 0, 0, 1]]
    np.testing.assert_allclose(arm.pose(q) @ turn, expected, atol=1e-12)
    for q in np.random.default_rng(3).uniform(-3, 3, (20, 6)):
        np.testing.assert_allclose(arm.pose(q) @ turn, mr.FKinSpace(M, S, q), atol=1e-9)


@given(joints, st.sampled_from([PUMA_ROWS, SHOP_ROWS, OFFSET_WRIST_ROWS]))
def test_poses_and_jacobian_against_screws(q, rows):
    """Screws read off the zero posture give an independent product of exponentials."""
    q = np.where(np.abs(q) < 1e-5, 0.0, q)  # the other library takes angles below 1e-6 for zero
    arm = Arm.from_dh(rows, "standard")
    axes = arm.axis_frames(np.zeros(6))
    screws = np.array([[*T[:3, 2], *np.cross(T[:3, 3], T[:3, 2])] for T in axes], dtype=float).T
    M = arm.pose(np.zeros(6))
    T = mr.FKinSpace(M, screws, q)
    np.testing.assert_allclose(arm.pose(q), T, atol=1e-9)
    spatial = mr.JacobianSpace(screws, q)  # angular rows first, at the base's origin
    linear = spatial[3:] + np.cross(spatial[:3].T, T[:3, 3]).T
    np.testing.assert_allclose(arm.jacobian(q), np.vstack([linear, spatial[:3]]), atol=1e-9)


def test_modified_rows_describe_the_same_arm():
    # Craig's form of the same chain: each a and alpha stands one row later.
    standard = Arm.from_dh(SHOP_ROWS, "standard")
    shifted = [
        (before[0], before[1], row[2], row[3])
        for before, row in zip([(0, 0, 0, 0), *SHOP_ROWS[:-1]], SHOP_ROWS, strict=True)
    ]
    modified = Arm.from_dh(shifted, "modified")
    q = np.random.default_rng(1).uniform(-3, 3, (50, 6))
    np.testing.assert_allclose(standard.pose(q), modified.pose(q), atol=1e-12)


def test_batches_keep_their_shape():
    arm = shop_arm()
    q = np.random.default_rng(2).uniform(-1, 1, (4, 3, 6))
    assert arm.pose(q).shape == (4, 3, 4, 4)
    assert arm.link_poses(q).shape == (4, 3, 7, 4, 4)
    assert arm.jacobian(q).shape == (4, 3, 6, 6)
    np.testing.assert_array_equal(arm.link_poses(q)[..., -1, :, :], arm.pose(q))
    np.testing.assert_allclose(arm.pose(q)[2, 1], arm.pose(q[2, 1]), atol=1e-15)


@pytest.mark.parametrize(
    ("rows", "convention", "options", "says"),
    [
        (SHOP_ROWS, "craig", {}, "'standard' or 'modified'"),
        ([], "standard", {}, "at least one"),
        ([(0, 0)], "standard", {}, "row 1"),
        ([(0, 0, np.nan)], "standard", {}, "row 1 holds numbers that are not finite"),
        (SHOP_ROWS, "standard", {"limits": [[1, 0]] * 6}, "joint 1: the lower limit"),
        (SHOP_ROWS, "standard", {"limits": [[0, 1]]}, r"\(6, 2\)"),
        (SHOP_ROWS, "standard", {"speed": [0] * 6}, "above zero"),
    ],
)
def test_refuses_descriptions_that_make_no_arm(rows, convention, options, says):
    with pytest.raises(ArmError, match=says):
        Arm.from_dh(rows, convention, **options)


@settings(max_examples=20)
@given(st.integers(0, 9).filter(lambda n: n != 6))
def test_refuses_joint_vectors_of_another_length(n):
    with pytest.raises(ShapeError, match=r"\(\.\.\., 6\)"):
        shop_arm().pose(np.zeros(n))
