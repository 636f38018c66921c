"""Straight lines and arcs of the tool."""

import modern_robotics as mr
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.errors import MotionError
from pathsim.model.circle import circle_through
from pathsim.model.held_way import HeldWay
from pathsim.motion.cartesian import CartesianMotion
from pathsim.motion.ideal import poses_at
from pathsim.motion.paths import ArcPath, LinePath
from pathsim.motion.seam_frame import directions_of, half_way, travel_at
from pathsim.transforms import exp_rotation, pose, rotation_about
from tests.motion import path_oracle

points = arrays(float, 3, elements=st.floats(-1, 1))


def at(*place, R=None):
    return pose(np.eye(3) if R is None else R, place)


def poses(path, s):
    """Poses of the tool at shares of a path that takes one second, evenly."""
    still = HeldWay.evenly(np.zeros(0), np.zeros(0))
    motion = CartesianMotion(path, np.eye(4), None, still, None, None, 1.0, np.eye(4))
    return poses_at(motion, s).tool


def test_line_against_the_books_code():
    # modern_robotics, CartesianTrajectory docstring: Tf 5, N 4, quintic, second row.
    start = at(1, 0, 1)
    end = at(0.1, 0, 4.1, R=np.array([[0, 0, 1], [1, 0, 0], [0, 1, 0]], float))
    share = mr.QuinticTimeScaling(5, 5 / 3)
    T = poses(LinePath(start, end), np.array([share]))[0]
    expected = mr.CartesianTrajectory(start, end, 5, 4, 5)[1]
    np.testing.assert_allclose(T, expected, atol=1e-9)
    np.testing.assert_allclose(T[:3, 3], [0.811, 0, 1.651], atol=1e-3)
    assert T[0, 0] == pytest.approx(0.937, abs=1e-3) and T[0, 2] == pytest.approx(0.277, abs=1e-3)


def test_three_point_circle():
    # Closed form: the circle through the unit points.
    circle = circle_through(*np.eye(3))
    np.testing.assert_allclose(circle.centre, np.full(3, 1 / 3), atol=1e-12)
    assert circle.radius == pytest.approx(0.816496581, abs=1e-9)
    assert np.degrees(circle.sweep) == pytest.approx(240)
    arc = ArcPath(*(at(*row) for row in np.eye(3)))
    assert arc.length == pytest.approx(3.4201, abs=1e-4)
    flat = circle_through(np.zeros(3), np.array([3.0, 4, 0]), np.array([6.0, 0, 0]))
    np.testing.assert_allclose(flat.centre, [3, 0.875, 0], atol=1e-12)
    assert flat.radius == pytest.approx(3.125)


@pytest.mark.parametrize(
    "three",
    [
        [[0, 0, 0], [1, 0, 0], [2, 0, 0]],
        [[0, 0, 0], [0, 0, 0], [2, 0, 0]],
        [[0, 0, 0], [1, 1, 0], [0, 0, 0]],
    ],
)
def test_refuses_points_that_make_no_circle(three):
    with pytest.raises(MotionError, match="line"):
        circle_through(*np.array(three, float))


@given(points, points, points)
def test_arc_stays_on_its_circle_and_passes_its_points(a, b, c):
    area = np.linalg.norm(np.cross(b - a, c - a))
    assume(area > 0.05)
    arc = ArcPath(at(*a), at(*b), at(*c))
    s = np.linspace(0, 1, 101)
    p = poses(arc, s)[:, :3, 3]
    np.testing.assert_allclose(
        np.linalg.norm(p - arc.circle.centre, axis=1), arc.circle.radius, atol=1e-9
    )
    np.testing.assert_allclose(p[[0, -1]], [a, c], atol=1e-8)
    via = poses(arc, arc.breaks)[1, :3, 3]
    np.testing.assert_allclose(via, b, atol=1e-8)
    steps = np.diff(p, axis=0)
    np.testing.assert_allclose(
        np.linalg.norm(steps, axis=1) * 100 / np.sinc(arc.circle.sweep / 200 / np.pi),
        arc.length,
        rtol=1e-6,
    )
    middle = [travel_at(arc, share) for share in (s[:-1] + s[1:]) / 2]
    np.testing.assert_allclose(
        steps / np.linalg.norm(steps, axis=1, keepdims=True), middle, atol=1e-6
    )


def test_arc_turns_the_tool_through_the_via_points_orientation():
    """Three quarters of a turn: the shortest turn from start to end would go the wrong way."""
    angles = np.radians([0, 135, 270])
    start, via, end = (
        pose(rotation_about([0, 0, 1.0], a), [np.cos(a), np.sin(a), 0]) for a in angles
    )
    arc = ArcPath(start, via, end)
    s = np.linspace(0, 1, 28)
    for T, share in zip(poses(arc, s), s, strict=True):
        expected = exp_rotation([0, 0, share * angles[-1]])
        np.testing.assert_allclose(T[:3, :3], expected, atol=1e-9)
        np.testing.assert_allclose(T[:3, :3] @ [1, 0, 0], T[:3, 3], atol=1e-9)


def paths():
    """A line and an arc, both turning the tool, and a turn on the spot."""
    a, b, c = (
        pose(exp_rotation(turn), place)
        for turn, place in [
            ([0.1, 0.2, 0.3], [0.5, 0.1, 0.2]),
            ([0.4, -0.2, 0.9], [0.7, 0.3, 0.25]),
            ([-0.3, 0.5, 1.1], [0.6, 0.6, 0.1]),
        ]
    )
    return [LinePath(a, b), ArcPath(a, b, c), LinePath(a, pose(b[:3, :3], a[:3, 3]))]


@pytest.mark.parametrize("path", paths())
def test_the_kernels_walk_as_matrices_do(path):
    s = np.linspace(0, 1, 41)
    np.testing.assert_allclose(poses(path, s), path_oracle.poses(path, s), atol=1e-12)
    travel = [travel_at(path, share) for share in s]
    np.testing.assert_allclose(travel, path_oracle.tangents(path, s), atol=1e-12)


@pytest.mark.parametrize("path", paths()[:2])
@pytest.mark.parametrize("tilt", [0.0, 0.3, -0.8])
def test_left_is_square_to_travel_and_torch_and_tilts_about_the_travel(path, tilt):
    for share in (0.0, 0.3, 1.0):
        left, travel = directions_of(path, share, tilt)
        at = np.array([share])
        there = path_oracle.tangents(path, at)
        expected = path_oracle.left_of(there, path_oracle.poses(path, at)[:, :3, 2], tilt)
        np.testing.assert_allclose(travel, there[0], atol=1e-12)
        np.testing.assert_allclose(left, expected[0], atol=1e-12)


def test_no_side_is_said():
    along = pose(exp_rotation([0, np.pi / 2, 0]), [0.0, 0, 0])  # the wire points along x
    there = along.copy()
    there[0, 3] = 0.1
    with pytest.raises(MotionError, match="torch points along the seam"):
        directions_of(LinePath(along, there), 0.5, 0.0)
    with pytest.raises(MotionError, match="turns back"):
        half_way(np.array([1.0, 0, 0]), np.array([-1.0, 0, 0]))
