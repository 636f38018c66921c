"""Straight moves of arms with four, five and seven joints, and of slides in the middle."""

import numpy as np
import pytest

from pathsim.arm import Arm
from pathsim.motion import plan_program
from pathsim.transforms import Turn, pose, rotation_about, rotation_angle
from tests.builders import HALF, cell, joint, linear

WIDE = [-2 * np.pi, 2 * np.pi]


def arm_of(rows, slides=(), span=None):
    prismatic = [i in slides for i in range(len(rows))]
    limits = [span or (-1.0, 1.0) if p else WIDE for p in prismatic]
    return Arm.from_dh(rows, "standard", limits=limits, speed=np.full(len(rows), 3.0),
                       acceleration=np.full(len(rows), 9.0), prismatic=prismatic)  # fmt: skip


def straightness(c, track):
    """Largest distance of the tip from the line between the ends, m."""
    tips = c.tool_poses(track.q_at(np.linspace(*track.t[[0, -1]], 2000)))[:, :3, 3]
    way = (tips[-1] - tips[0]) / np.linalg.norm(tips[-1] - tips[0])
    return np.linalg.norm(np.cross(tips - tips[0], way), axis=1).max(), tips


def test_four_joints_keep_a_level_tool_level():
    """Three upright axes and a slide, with a turn at the end: every pose between is reachable."""
    rows = [(0.4, 0, 0.3), (0.35, 0, 0), (0, np.pi, 0.1), (0.1, 0, 0.05)]
    arm = Arm.from_dh(rows, "standard",
                      limits=[WIDE, WIDE, (-0.5, 0.5), WIDE], prismatic=[0, 0, 1, 0],
                      speed=np.full(4, 3.0), acceleration=np.full(4, 9.0))  # fmt: skip
    q = np.array([0.2, 0.8, 0.1, 0.3])
    T = arm.pose(q)
    T[:3, 3] += [-0.04, -0.08, -0.08]
    T = T @ pose(rotation_about([0, 0, 1.0], 0.6), [0, 0, 0])
    found = arm.inverse(T)
    assert len(found) >= 1
    end = found[np.argmin(np.abs(found - q).max(axis=1))]
    c = cell({"home": q, "end": end}, [linear("end", 0.05)], arm=arm)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    off, _ = straightness(c, track)
    assert off < 4e-5
    np.testing.assert_allclose(track.q[-1], end, atol=1e-6)
    # a pose that is not level is nowhere
    assert len(arm.inverse(T @ pose(rotation_about([1.0, 0, 0], 0.2), [0, 0, 0]))) == 0


def test_five_joints_go_straight_and_swing_the_wire_evenly():
    arm = arm_of([(0.1, HALF, 0.4), (0.5, 0, 0), (0.45, 0, 0), (0.05, HALF, 0), (0, 0, 0.12)])
    q = np.array([0.2, 0.9, -1.4, 0.3, 0.2])
    base = cell({"home": q}, [joint("home")], arm=arm)
    end = q + [0.05, -0.06, 0.08, 0.05, -0.1]
    c = cell({"home": q, "end": end}, [linear("end", 0.05)], arm=arm)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    off, tips = straightness(c, track)
    assert off < 4e-5
    goal = base.tool_poses(end[None])[0]
    np.testing.assert_allclose(tips[-1], goal[:3, 3], atol=1e-7)
    # the wire's direction is that of the shortest turn; what it is turned about itself is free
    start = base.tool_poses(q[None])[0]
    T = c.tool_poses(track.q_at(np.linspace(*track.t[[0, -1]], 400)))
    share = np.linalg.norm(T[:, :3, 3] - T[0, :3, 3], axis=1)
    expected = Turn(start[:3, :3], goal[:3, :3]).at(share / share[-1])[:, :, 2]
    np.testing.assert_allclose(T[:, :3, 2], expected, atol=3e-4)


def test_seven_joints_carry_the_held_one_evenly():
    rows = [(0, HALF, 0.3), (0, -HALF, 0), (0, HALF, 0.4), (0.05, -HALF, 0), (0, HALF, 0.4),
            (0.08, -HALF, 0), (0, 0, 0.12)]  # fmt: skip
    arm = arm_of(rows)
    assert arm.held == 2 and arm.joint_name(2) == "joint 3"
    q = np.array([0.3, 0.5, 0.2, -1.2, 0.4, 0.9, 0.1])
    T = arm.pose(q)
    T[:3, 3] += [0.03, 0.05, -0.04]
    found = arm.inverse(T, held=0.35)
    end = found[np.argmin(np.abs(found - q).max(axis=1))]
    assert end[2] == pytest.approx(0.35, abs=1e-12)
    c = cell({"home": q, "end": end}, [linear("end", 0.05)], arm=arm)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    off, tips = straightness(c, track)
    assert off < 4e-5
    share = np.linalg.norm(tips - tips[0], axis=1) / np.linalg.norm(tips[-1] - tips[0])
    held = track.q_at(np.linspace(*track.t[[0, -1]], 2000))[:, 2]
    np.testing.assert_allclose(held, 0.2 + 0.15 * share, atol=1e-4)
    np.testing.assert_allclose(track.q[-1], end, atol=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_a_slide_in_the_middle_keeps_the_error_bound(seed):
    rng = np.random.default_rng(seed)
    rows = [(0.1, HALF, 0.4), (0.3, HALF, 0), (0.0, 0.4, 0.3), (0.1, HALF, 0.2), (0, -HALF, 0.1),
            (0, 0, 0.12)]  # fmt: skip
    arm = arm_of(rows, slides=(2,), span=(-0.5, 1.0))
    q = rng.uniform([-1, 0.2, 0.1, -1, 0.5, -1], [1, 1.2, 0.4, 1, 1.2, 1])
    end = q + rng.uniform(-0.15, 0.15, 6)
    c = cell({"home": q, "end": end}, [linear("end", 0.05)], arm=arm)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    off, _ = straightness(c, track)
    assert off < 4e-5
    T = c.tool_poses(track.q[[-1]])[0]
    goal = c.tool_poses(end[None])[0]
    assert rotation_angle(T[:3, :3].T @ goal[:3, :3]) < 1e-6
