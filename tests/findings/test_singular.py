"""Singular zones on straight moves: how near, how long, how fast, and what a twist changes."""

import dataclasses

import numpy as np
import pytest

from pathsim.arm import Arm, Dimensions
from pathsim.arm.alignment import characteristic_length, smallest_singular_value, wrist_angle
from pathsim.check import check
from pathsim.clearance import ReferenceEngine
from pathsim.findings import Evidence, Level
from pathsim.findings.twist import ZONE, twists
from pathsim.motion import plan_program
from pathsim.transforms import frozen, inverse, pose, rotation_about, translation
from pathsim.units import degrees
from tests.builders import OFFSET_WRIST_ROWS, box, cell, joint, linear, seam, torch

WIDE = np.tile([-2 * np.pi, 2 * np.pi], (6, 1))


def arm_of(size=None, speed=3.0):
    size = size or Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10)
    return Arm.from_dimensions(
        size, limits=WIDE, speed=np.full(6, speed), acceleration=np.full(6, 9.0)
    )


def straight(arm, q, offset, move=linear, speed=0.1, bent=True):
    """A cell with one straight move by ``offset`` from joints ``q``."""
    base = cell({"home": q}, [joint("home")], arm=arm, links=[box((0.01,) * 3)] * 7)
    tool = base.torch if bent else dataclasses.replace(torch(), T_flange_tcp=frozen(np.eye(4)))
    T = translation(offset) @ arm.pose(q) @ tool.T_flange_tcp
    found = arm.inverse(T @ inverse(tool.T_flange_tcp))
    end = found[np.argmin(np.abs(found - q).max(axis=1))]
    c = cell({"home": q, "end": end}, [move("end", speed)], arm=arm, links=base.link_meshes)
    return dataclasses.replace(c, torch=tool)


def of_kind(c, kind):
    return [f for f in check(c).findings if f.kind == kind]


def test_elbow_near_stretched():
    """The forearm's line needs q3 = -(90 deg - atan(130/640)) to be stretched: drawn geometry."""
    straight_q3 = -np.pi / 2 + np.arctan2(0.13, 0.64)
    q = np.array([0, 0.9, straight_q3 + np.radians(12), 0.3, 0.8, 0.2])
    arm = arm_of()
    reach = arm.axis_frames(q)[4, :3, 3] - arm.axis_frames(q)[1, :3, 3]
    out = 0.9 * (0.59 + np.hypot(0.64, 0.13) - np.linalg.norm(reach))
    c = straight(arm, q, out * reach / np.linalg.norm(reach), speed=0.005)
    (finding,) = of_kind(c, "elbow stretched")
    track = plan_program(c).tracks[0]
    nearest = np.abs(track.q[:, 2] - straight_q3).min()
    assert finding.level is Level.NOTE and "stretched or folded" in finding.text
    # the angle of the elbow is that of joint 3 from stretched
    assert finding.numbers["measure"] == pytest.approx(nearest, abs=1e-3)
    inside = np.abs(track.q_at(np.linspace(*track.t[[0, -1]], 5000))[:, 2] - straight_q3)
    seconds = (inside < np.radians(5)).mean() * track.duration
    assert f"for {seconds:.1f} s" in finding.text


def test_wrist_over_the_shoulder():
    arm = arm_of()
    q = np.array([0.2, -1.05, 0.9, 0.3, 0.8, 0.2])
    centre = arm.axis_frames(q)[4, :2, 3]
    way = -centre * (1 - 0.02 / np.hypot(*centre))  # ends 20 mm from axis 1
    c = straight(arm, q, [*way, 0.0], speed=0.05)
    (finding,) = of_kind(c, "wrist over shoulder")
    assert finding.numbers["measure"] == pytest.approx(0.02, abs=1e-4)
    assert "20 mm beside the axis of joint 1" in finding.text
    far = straight(arm, np.array([0, 0.3, 0.1, 0.3, 0.8, 0.2]), [0.05, 0.05, 0])
    assert not of_kind(far, "wrist over shoulder")


def aligned_pass(arm, speed, move=linear, bent=True):
    """Straight past alignment of joints 4 and 6, nearest 1.5 deg in the middle."""
    q = np.array([0.1, 0.2, 0.1, 0.0, np.radians(1.5), 0.0])
    axes = arm.axis_frames(q)
    across = axes[4, :3, 2]
    middle = straight(arm, q, [0, 0, 1e-9], bent=bent)
    T = arm.pose(q) @ middle.torch.T_flange_tcp
    T_start = translation(-0.06 * across) @ T
    # keep the torch's direction: the wrist's centre moves, so joint 5's axis swings round
    found = arm.inverse(T_start @ inverse(middle.torch.T_flange_tcp))
    start = found[np.argmin(np.abs(found[:, :3] - q[:3]).max(axis=1) + (found[:, 4] < 0))]
    return straight(arm, start, 0.12 * across, move=move, speed=speed, bent=bent)


def test_direction_matters_and_the_speed_decides():
    """The same alignment: slow is watched, fast on a seam stops it."""
    slow = of_kind(aligned_pass(arm_of(), 0.005), "wrist aligned")
    fast = of_kind(aligned_pass(arm_of(), 0.3, move=seam), "wrist aligned")
    assert [f.level for f in slow] == [Level.WATCH] and [f.level for f in fast] == [Level.STOP]
    assert "times what it can do" in fast[0].text
    share_slow, share_fast = (f[0].numbers["joint speed share"] for f in (slow, fast))
    assert share_fast == pytest.approx(share_slow * 60, rel=0.05)


def test_a_twist_about_the_wire_is_worked_out():
    """Said numbers against a second check with the taught point really turned."""
    plain = aligned_pass(arm_of(), 0.02)
    points = {name: plain.points[name].q for name in ("home", "end")}
    points["rest"] = points["home"] + 0.02
    moves = [joint("home"), linear("end", 0.02)]
    c = cell(points, moves, start="rest", arm=plain.arm, links=plain.link_meshes)
    finding = next(f for f in of_kind(c, "wrist aligned") if f.move == 2)
    result = check(c)
    evidence = Evidence(c, result.trajectory, result.moves, engine=ReferenceEngine(c))
    twist = next(twists(evidence, result.trajectory.tracks[1]))
    said = " and ".join(f"'{name}'" for name in twist.points)
    assert f"Turning the torch {degrees(twist.angle, 0)} about its wire at {said}" in finding.text
    turn = pose(rotation_about([0, 0, 1.0], twist.angle), np.zeros(3))
    X = c.torch.T_flange_tcp
    near = c.points["home"].q
    for name in twist.points:
        found = c.arm.inverse(c.arm.pose(points[name]) @ X @ turn @ inverse(X))
        near = found[np.argmin(np.abs(found - near).max(axis=1))]
        points[name] = near
    again = cell(points, moves[1:], arm=c.arm, links=c.link_meshes)
    after = plan_program(again).tracks[0]
    assert after.fault is None
    seen = wrist_angle(c.arm, after.q).min()
    assert seen == pytest.approx(twist.alignment, abs=np.radians(0.3)) and seen > ZONE
    now = after.speed_ratio[:, 3:].max()
    assert now == pytest.approx(twist.share, rel=0.1)
    assert now < finding.numbers["joint speed share"]


def test_a_straight_torch_is_not_helped_by_a_twist():
    """Wire along the flange: turning about it only turns joint 6."""
    c = aligned_pass(arm_of(), 0.02, bent=False)
    (finding,) = of_kind(c, "wrist aligned")
    assert (
        "No turn of the torch about its wire by up to 44 deg was found to help here" in finding.text
    )


def test_an_offset_wrist_is_judged_by_singular_values():
    arm = Arm.from_dh(
        OFFSET_WRIST_ROWS, "standard", limits=WIDE, speed=np.full(6, 3.0),
        acceleration=np.full(6, 9.0),
    )  # fmt: skip
    q = np.array([0.3, -1.2, 1.4, 0.4, 0.02, 0.3])
    c = straight(arm, q, [0.0, 0.0, 0.02], speed=0.01)
    (finding,) = of_kind(c, "near singular")
    track = plan_program(c).tracks[0]
    length = characteristic_length(arm)
    # against the matrix itself, lengths divided by the length that is said
    J = arm.jacobian(track.q)
    J[:, :3] /= length
    smallest = np.linalg.svd(J, compute_uv=False)[:, -1].min()
    assert finding.numbers["measure"] == pytest.approx(smallest, abs=2e-3)
    assert f"divided by {length * 1e3:.0f} mm" in finding.text
    well = np.array([0.3, -1.2, 1.4, 0.4, 1.2, 0.3])
    assert smallest_singular_value(arm, well, length) > 0.05
    assert not of_kind(straight(arm, well, [0, 0, 0.02], speed=0.01), "near singular")


def test_joint_moves_pass_singularities_without_a_word():
    q = np.array([0.1, 0.2, -1.37, 0.1, 0.5, 0.1])
    c = cell(
        {"home": q, "end": q + 0.1}, [joint("end")], arm=arm_of(), links=[box((0.01,) * 3)] * 7
    )
    assert not [f for f in check(c).findings if f.kind in ("elbow stretched", "near singular")]


def test_nothing_found_by_search_is_said_as_such():
    arm = Arm.from_dh(
        OFFSET_WRIST_ROWS, "standard", limits=WIDE, speed=np.full(6, 3.0),
        acceleration=np.full(6, 9.0),
    )  # fmt: skip
    q = np.array([0.3, -1.2, 1.4, 0.4, 0.9, 0.3])
    from pathsim.model import Point

    c = straight(arm, q, [0, 0, 0.02])
    away = frozen(translation([3.0, 0, 0]) @ arm.pose(q) @ c.torch.T_flange_tcp)
    c = dataclasses.replace(c, points={**c.points, "end": Point("end", None, away)})
    (finding,) = of_kind(c, "out of reach")
    assert finding.level is Level.STOP and "a search may miss some" in finding.text
