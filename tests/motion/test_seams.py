"""Seams of several pieces, waits, craters, the override, and what goes on in corners."""

import dataclasses

import numpy as np
import pytest

from pathsim.model import MoveKind, Pattern, Weave
from pathsim.model.held_way import HeldWay
from pathsim.model.weave import DwellCounts, TravelInDwell
from pathsim.motion import PATH_ERROR, plan_program
from pathsim.motion.cartesian import cartesian_motion
from pathsim.motion.paths import LinePath
from pathsim.transforms import frozen, translation
from tests.builders import cell, joint, linear, seam, shop_arm
from tests.motion import ideal_oracle
from tests.motion.seam_cells import HOME, seam_cell


def joined(move):
    return dataclasses.replace(move, joined=True)


L_SHAPE = {"corner": (0.03, 0, 0), "end": (0.03, 0.04, 0)}
SINE = Weave("w", Pattern.SINE, 0.002, 2.0)


def dense(c, per_second=4000):
    """Times and tips of the whole program."""
    t = np.linspace(0, plan_program(c).duration, int(plan_program(c).duration * per_second))
    trajectory = plan_program(c)
    q = np.concatenate([track.q_at(t[(t >= track.t[0]) & (t <= track.t[-1])])
                        for track in trajectory.tracks])  # fmt: skip
    return t, c.tool_poses(q)[:, :3, 3]


def test_joined_pieces_go_on_without_a_stop():
    moves = [seam("corner", 0.005), joined(seam("end", 0.005))]
    c = seam_cell(L_SHAPE, moves)
    first, second = plan_program(c).tracks
    assert first.fault is None and second.fault is None and second.continuous
    assert first.duration == pytest.approx(6.0) and second.duration == pytest.approx(8.0)
    for track in (first, second):
        t = np.linspace(*track.t[[0, -1]], 500)
        tips = c.tool_poses(track.q_at(t))[:, :3, 3]
        speed = np.linalg.norm(np.diff(tips, axis=0), axis=1) / np.diff(t)
        np.testing.assert_allclose(speed, 0.005, rtol=2e-2)  # even travel from end to end


@pytest.mark.parametrize("pattern", list(Pattern))
def test_a_weave_keeps_its_step_round_a_corner(pattern):
    """On pieces that are no whole number of cycles long the weave is off centre at the corner."""
    weave = Weave("w", pattern, 0.002, 0.77)
    moves = [seam("corner", 0.005), joined(seam("end", 0.005))]
    c = seam_cell(L_SHAPE, moves, weave)
    first, second = plan_program(c).tracks
    assert first.fault is None and second.fault is None
    t, tips = dense(c)
    # no leap anywhere: travel, weave and the turn of its direction round the corner bound it
    step = np.linalg.norm(np.diff(tips, axis=0), axis=1) / np.diff(t)
    assert step.max() < 3 * (0.005 + 2 * np.pi * weave.amplitude / weave.stroke)
    # in step: far from the corner the sides are those of one weave over the whole seam
    start = tips[0]
    later = t > 8.0
    left = np.cross(-c.tool_poses(second.q[-1:])[0, :3, 2], [0.0, 1.0, 0.0])
    left /= np.linalg.norm(left)
    assert left[0] < 0  # left of +y is towards -x, leaning with the torch
    side = (tips[later] - start - [0.03, 0, 0]) @ left
    phase = 2 * np.pi * 0.77 * t[later]
    if pattern is Pattern.SINE:
        ends = t[later] < 13.0
        np.testing.assert_allclose(side[ends], 0.002 * np.sin(phase[ends]), atol=5e-5)
    assert np.abs(side).max() <= 0.0021


def test_a_full_circle_in_two_joined_arcs():
    r = 0.02
    offsets = {"a": (r, r, 0), "b": (2 * r, 0, 0), "c": (r, -r, 0), "back": (0, 0, 0)}
    moves = [seam("b", 0.005, via="a"), joined(seam("back", 0.005, via="c"))]
    c = seam_cell(offsets, moves)
    tracks = plan_program(c).tracks
    assert all(track.fault is None for track in tracks)
    assert sum(track.tip_length for track in tracks) == pytest.approx(2 * np.pi * r)
    _, tips = dense(c, 500)
    centre = tips[0] + [r, 0, 0]
    np.testing.assert_allclose(np.linalg.norm(tips - centre, axis=1), r, atol=3e-5)


def test_travel_stands_still_while_it_dwells():
    weave = Weave("w", Pattern.SINE, 0.002, 2.0, 0.2, 0.2, DwellCounts.ADDED, 0.0,
                  TravelInDwell.STANDS)  # fmt: skip
    c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.005)], weave)
    (track,) = plan_program(c).tracks
    assert track.duration == pytest.approx(6.0 + 12 * 0.4)  # twelve cycles of 0.4 s dwell
    t = np.linspace(*track.t[[0, -1]], 30001)
    along = c.tool_poses(track.q_at(t))[:, 0, 3]
    still = np.abs(np.diff(along)) < 1e-9
    assert still.mean() == pytest.approx(12 * 0.4 / track.duration, abs=0.02)


def test_tilt_raises_the_left_side():
    flat = Weave("w", Pattern.SINE, 0.003, 2.0)
    tilted = dataclasses.replace(flat, tilt=np.radians(30))
    places = {}
    for name, weave in (("flat", flat), ("tilted", tilted)):
        c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.005)], weave)
        motion_tips = dense(c, 500)[1]
        places[name] = motion_tips - motion_tips[0]
    T = plan_program(c).tracks[0]
    up = -(c.tool_poses(T.q[:1])[0, :3, 2])  # against the wire
    up = up - up[0] * np.array([1.0, 0, 0])
    up /= np.linalg.norm(up)
    left = np.cross(up, [1.0, 0, 0])
    np.testing.assert_allclose(places["flat"] @ up, 0, atol=4e-5)
    side = places["tilted"] @ left
    np.testing.assert_allclose(places["tilted"] @ up, side * np.tan(np.radians(30)), atol=6e-5)
    assert side.max() == pytest.approx(0.003 * np.cos(np.radians(30)), rel=0.02)


def test_waits_and_craters_stand_still():
    moves = [dataclasses.replace(seam("end", 0.01, crater=0.6), wait=0.4),
             dataclasses.replace(joint("home"), wait=1.5)]  # fmt: skip
    c = seam_cell({"end": (0.03, 0, 0)}, moves)
    first, second = plan_program(c).tracks
    assert first.duration == pytest.approx(3.0 + 1.0)
    np.testing.assert_array_equal(first.q[-1], first.q[-2])
    assert second.t[-1] - second.t[-2] == pytest.approx(1.5)


def test_override_stretches_time():
    """A seam takes twice as long at half speed; a long joint move nearly so, ramps cost less."""
    c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.005, crater=0.5), joint("home", 0.4)])
    c = dataclasses.replace(c, override=0.5)
    first, second = plan_program(c).tracks
    assert first.slow_duration == pytest.approx(2 * 6.0 + 0.5)
    half = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.005), joint("home", 0.2)])
    at_half = plan_program(half).tracks[1]
    assert second.slow_duration == pytest.approx(at_half.duration, rel=1e-9)


def test_knots_of_loops_keep_the_error_bound():
    for pattern in (Pattern.CIRCLE, Pattern.EIGHT, Pattern.CRESCENT):
        weave = Weave("w", pattern, 0.003, 2.0, 0.05, 0.05)
        c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.005)], weave)
        (track,) = plan_program(c).tracks
        start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
        path = LinePath(start, translation([0.03, 0, 0]) @ start)
        motion = cartesian_motion(c, track.move, path, HeldWay.evenly(np.zeros(0), np.zeros(0)))
        t = np.linspace(*track.t[[0, -1]], 8001)
        gap = c.tool_poses(track.q_at(t))[:, :3, 3] - ideal_oracle.tool(motion, t)[:, :3, 3]
        assert np.linalg.norm(gap, axis=1).max() <= PATH_ERROR * 1.2


def test_seams_after_seams_without_joining_stay_their_own():
    moves = [seam("corner", 0.005), seam("end", 0.005)]
    c = seam_cell(L_SHAPE, moves, SINE)
    first, second = plan_program(c).tracks
    tips = c.tool_poses(np.array([first.q[-1], second.q[0]]))[:, :3, 3]
    corner = c.points["corner"].T_base_tcp[:3, 3]
    np.testing.assert_allclose(tips, [corner, corner], atol=1e-6)  # both end on the centre


def test_a_jerk_limit_is_kept_by_the_laid_joint_move():
    arm = dataclasses.replace(shop_arm(), jerk=frozen(np.full(6, 40.0)))
    c = cell({"home": HOME, "end": HOME + [0.8, -0.3, 0.2, 0.5, -0.4, 1.0]}, [joint("end", 0.6)],
             arm=arm)  # fmt: skip
    (track,) = plan_program(c).tracks
    from pathsim.motion.time_scaling import synchronised

    delta = c.points["end"].q - HOME
    law = synchronised(delta, arm.speed * 0.6, arm.acceleration, arm.jerk)
    assert track.duration == pytest.approx(law.duration)
    t = np.linspace(0, law.duration, 5001)
    gap = track.q_at(t) - HOME - law.position(t)[:, None] * delta
    from pathsim.model.lever import longest_levers

    assert (np.abs(gap) @ longest_levers(c)).max() <= PATH_ERROR * 1.01
    assert track.move.kind is MoveKind.JOINT and linear("end").kind is MoveKind.LINEAR


@pytest.mark.parametrize("length", [0.0, 5e-10])
def test_a_seam_of_no_length_keeps_its_crater_time_and_wait_at_any_override(length):
    spot = dataclasses.replace(seam("end", 0.01, crater=0.6), wait=0.4)
    c = dataclasses.replace(seam_cell({"end": (length, 0, 0)}, [spot]), override=0.5)
    (track,) = plan_program(c).tracks
    np.testing.assert_allclose(track.t, [0.0, 0.6, 1.0])
    np.testing.assert_array_equal(track.q, np.broadcast_to(track.q[0], track.q.shape))
    assert track.arc_seconds == pytest.approx(0.6)
    assert track.slow_duration == pytest.approx(1.0)
    assert track.tip_length == 0
