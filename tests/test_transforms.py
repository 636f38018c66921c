import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial.transform import Rotation

from pathsim.errors import ShapeError
from pathsim.transforms import (
    Turn,
    apply,
    exp_rotation,
    inverse,
    log_rotation,
    pose,
    quat_wxyz_from_rotation,
    require_poses,
    rotation_from_angles,
    rotation_from_quat_wxyz,
)

vectors = arrays(float, 3, elements=st.floats(-3.1, 3.1))


def test_a_third_of_a_turn_reference():
    # Lynch and Park's code (modern_robotics, CartesianTrajectory) uses the same target; the
    # values at one third were computed with scipy's Slerp.
    R1 = np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0]], float)
    R = Turn(np.eye(3), R1).at(np.array([1 / 3]))[0]
    np.testing.assert_allclose(R[0], [0.844029629, -0.293128414, 0.449098785], atol=1e-9)


def test_fixed_xyz_is_intrinsic_zyx_reversed():
    # Values computed with scipy: fixed roll/pitch/yaw 10/20/30 deg.
    R = rotation_from_angles("fixed x-y-z", np.radians([10, 20, 30]))
    np.testing.assert_allclose(R[0], [0.813797681, -0.440969611, 0.378522306], atol=1e-9)
    np.testing.assert_allclose(
        R, rotation_from_angles("intrinsic z-y-x", np.radians([30, 20, 10])), atol=1e-15
    )
    w, x, y, z = quat_wxyz_from_rotation(R)
    np.testing.assert_allclose(
        [x, y, z, w], [0.038134576, 0.189307857, 0.239298338, 0.951548525], atol=1e-9
    )


@given(vectors)
def test_conventions_against_scipy(angles):
    for ours, theirs in (
        ("fixed x-y-z", "xyz"),
        ("intrinsic z-y-x", "ZYX"),
        ("z-y-z", "ZYZ"),
    ):
        expected = Rotation.from_euler(theirs, angles).as_matrix()
        np.testing.assert_allclose(rotation_from_angles(ours, angles), expected, atol=1e-12)


@given(vectors)
def test_exp_and_log_against_scipy(vector):
    R = exp_rotation(vector)
    np.testing.assert_allclose(R, Rotation.from_rotvec(vector).as_matrix(), atol=1e-12)
    np.testing.assert_allclose(exp_rotation(log_rotation(R)), R, atol=1e-12)


@given(vectors, st.floats(1e-12, 1e-5))
@settings(max_examples=50)
def test_log_is_accurate_near_half_a_turn(vector, short):
    size = np.linalg.norm(vector)
    if size < 1e-3:
        return
    R = exp_rotation(vector / size * (np.pi - short))
    assert np.linalg.norm(log_rotation(R)) == pytest.approx(np.pi - short, abs=1e-12)


@given(vectors, vectors)
def test_inverse_undoes(vector, place):
    T = pose(exp_rotation(vector), place)
    np.testing.assert_allclose(inverse(T) @ T, np.eye(4), atol=1e-12)
    points = np.array([[1.0, 2.0, 3.0], [0.0, 0.0, 0.0]])
    np.testing.assert_allclose(apply(inverse(T), apply(T, points)), points, atol=1e-12)


@given(vectors)
def test_quaternion_round_trip(vector):
    R = exp_rotation(vector)
    np.testing.assert_allclose(rotation_from_quat_wxyz(quat_wxyz_from_rotation(R)), R, atol=1e-12)


def test_refuses_what_is_no_pose():
    with pytest.raises(ShapeError, match=r"came \(3, 3\)"):
        require_poses(np.eye(3))
    with pytest.raises(ShapeError, match="not finite"):
        require_poses(np.full((4, 4), np.nan))
    with pytest.raises(ShapeError, match="no rigid pose"):
        require_poses(np.diag([2.0, 1, 1, 1]))
    with pytest.raises(ShapeError, match="zero length"):
        rotation_from_quat_wxyz([0, 0, 0, 0])
