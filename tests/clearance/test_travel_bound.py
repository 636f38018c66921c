"""The motion bound: no point ever travels farther, on sharp arms made to break it."""

import numpy as np
import pytest

from pathsim.arm import Arm
from pathsim.clearance.relative_chain import curvature_bound, segment_travel, sphere_gap
from pathsim.model import Piece
from pathsim.model.lever import levers
from pathsim.transforms import apply
from tests.builders import HALF, OFFSET_WRIST_ROWS, PUMA_ROWS, SHOP_ROWS, box

PLANAR = [(0.4, 0, 0), (0.5, 0, 0), (0.3, 0, 0)]
SHARP = [(0.0, HALF, 0.2), (0.6, 0, 0), (0.6, 0, 0), (0.3, 0, 0.1)]


def arms():
    for rows in (PLANAR, SHARP, PUMA_ROWS, SHOP_ROWS, OFFSET_WRIST_ROWS):
        yield Arm.from_dh(rows, "standard")


def ways(arm, piece, q0, q1, steps=400):
    s = np.linspace(0, 1, steps + 1)[:, None]
    T = arm.link_poses(q0 + s * (q1 - q0))[:, piece.link]
    points = apply(T, piece.mesh.corners)
    return np.linalg.norm(np.diff(points, axis=0), axis=-1), points


@pytest.mark.parametrize("size", [0.02, 0.3, 1.5])
def test_no_point_travels_farther_and_no_part_faster(size):
    rng = np.random.default_rng(int(size * 100))
    tightest = 0.0
    for arm in arms():
        for _ in range(60):
            link = int(rng.integers(1, arm.dof + 1))
            piece = Piece(
                "p", link, box(rng.uniform(0.01, 0.3, 3), rng.uniform(-0.3, 0.3, 3)), False
            )
            q0 = rng.uniform(-3, 3, arm.dof)
            q1 = q0 + rng.uniform(-size, size, arm.dof) * (rng.random(arm.dof) < 0.6)
            q = np.array([q0, q1])
            bound = segment_travel(q, arm.link_poses(q)[:, link], piece, levers(arm, piece))[0]
            steps, _ = ways(arm, piece, q0, q1)
            whole = steps.sum(axis=0).max()
            assert whole <= bound + 1e-9
            assert steps.max() * 400 <= bound + 1e-6  # speed at every moment
            tightest = max(tightest, whole / bound if bound > 0 else 0)
    # a bound that is never near the truth would pass with a wrong formula
    assert tightest > (0.95 if size < 0.1 else 0.6)


def test_levers_are_reached_by_a_stretched_arm_and_never_passed():
    arm = Arm.from_dh(PLANAR, "standard")
    piece = Piece("p", 3, box((0.1, 0.1, 0.1)), False)
    lever = levers(arm, piece)
    rng = np.random.default_rng(0)
    for q in [np.zeros(3), *rng.uniform(-3, 3, (300, 3))]:
        axes = arm.axis_frames(q)
        points = apply(arm.link_poses(q)[3], piece.mesh.corners)
        for k in range(3):
            rest = points - axes[k, :3, 3]
            along = rest @ axes[k, :3, 2]
            radius = np.sqrt((rest**2).sum(axis=1) - along**2).max()
            assert radius <= lever[k] + 1e-12
    straight = arm.link_poses(np.zeros(3))[3]
    tip = apply(straight, piece.mesh.corners)
    assert np.hypot(tip[:, 0], tip[:, 1]).max() > 0.99 * lever[0]


def test_levers_stop_at_the_pieces_own_joint():
    arm = Arm.from_dh(SHOP_ROWS, "standard")
    assert (levers(arm, Piece("p", 2, box(), False))[2:] == 0).all()


def test_sphere_gap_never_passes_the_true_distance():
    rng = np.random.default_rng(4)
    low, high = np.array([0.3, -0.2, 0.1]), np.array([0.7, 0.3, 0.4])
    close = 0
    for arm in arms():
        for _ in range(60):
            link = int(rng.integers(1, arm.dof + 1))
            piece = Piece("p", link, box((0.1, 0.05, 0.2), rng.uniform(-0.1, 0.1, 3)), False)
            q = np.cumsum(rng.uniform(-0.2, 0.2, (5, arm.dof)), axis=0)
            T = arm.link_poses(q)[:, link]
            travel = segment_travel(q, T, piece, levers(arm, piece))
            gap = sphere_gap(T, piece, travel, low, high)
            for k in range(4):
                _, points = ways(arm, piece, q[k], q[k + 1], 60)
                outside = np.maximum(np.maximum(low - points, points - high), 0)
                true = np.linalg.norm(outside, axis=-1).min()
                assert gap[k] <= true + 1e-9
                close += gap[k] > 0.5 * true > 0
    assert close > 50


def test_second_derivative_is_bounded_and_the_bound_is_reached():
    """Dropped cross terms pass random checks of travel; a stretched arm shows them."""
    rng = np.random.default_rng(8)
    for arm in arms():
        for _ in range(40):
            link = int(rng.integers(1, arm.dof + 1))
            piece = Piece("p", link, box((0.1, 0.05, 0.2), rng.uniform(-0.2, 0.2, 3)), False)
            q0 = rng.uniform(-3, 3, arm.dof)
            dq = rng.uniform(-0.5, 0.5, arm.dof)
            bound = curvature_bound(np.array([q0, q0 + dq]), levers(arm, piece))[0]
            h = 1e-3
            s = np.array([-h, 0, h])[:, None] + rng.random()
            points = apply(arm.link_poses(q0 + s * dq)[:, link], piece.mesh.corners)
            second = (points[0] - 2 * points[1] + points[2]) / h**2
            assert np.linalg.norm(second, axis=1).max() <= bound * (1 + 1e-6) + 1e-8
    # straight out, all joints turning the same way, every term adds up in one direction
    arm = Arm.from_dh(PLANAR, "standard")
    piece = Piece("p", 3, box((0.002, 0.002, 0.002)), False)
    dq = np.array([0.3, 0.2, 0.4])
    s = np.array([-1e-3, 0, 1e-3])[:, None]
    points = apply(arm.link_poses(s * dq)[:, 3], piece.mesh.corners)
    second = np.linalg.norm(points[0] - 2 * points[1] + points[2], axis=1).max() / 1e-6
    bound = curvature_bound(np.array([[0, 0, 0], dq]), levers(arm, piece))[0]
    assert 0.99 * bound < second <= bound * (1 + 1e-5)


def test_levers_hold_behind_slides_that_are_far_out():
    """Numerically: no point of the piece moves faster about an axis than the lever says."""
    rng = np.random.default_rng(8)
    worst = 0.0
    for _ in range(60):
        kinds = rng.random(5) < 0.5
        kinds[0] = False
        rows = [(rng.uniform(0, 0.3), rng.choice([-1, 1]) * rng.uniform(0.4, 1.6), 0.1)
                for _ in kinds]  # fmt: skip
        arm = Arm.from_dh(rows, "standard", prismatic=list(kinds))
        piece = Piece("p", 5, box((0.1, 0.05, 0.2)), False)
        q = np.where(kinds, rng.uniform(-2, 2, 5), rng.uniform(-3, 3, 5))
        found = levers(arm, piece, np.where(kinds, np.abs(q), 0.0))
        axes = arm.axis_frames(q)
        points = apply(arm.link_poses(q)[5], piece.mesh.corners)
        for joint in range(5):
            if kinds[joint]:
                assert found[joint] == 1.0
                continue
            z, origin = axes[joint, :3, 2], axes[joint, :3, 3]
            away = np.linalg.norm(np.cross(points - origin, z), axis=1).max()
            assert away <= found[joint] + 1e-12
            worst = max(worst, away / found[joint])
    assert worst > 0.9  # and it is no wild overestimate
