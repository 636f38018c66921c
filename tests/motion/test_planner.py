"""The program as knots: error bound, continuity, branches, faults."""

import dataclasses
import gc
import itertools
import weakref

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.errors import CannotCheck, MotionError
from pathsim.model import Axes, DwellCounts, Move, MoveKind, Pattern, Point, Weave
from pathsim.model.held_way import HeldWay
from pathsim.model.lever import longest_levers
from pathsim.motion import PATH_ERROR, FaultKind, MoveCache, plan_program
from pathsim.motion.cartesian import cartesian_motion
from pathsim.motion.knots import knot_times
from pathsim.motion.move_start import without_last_bits
from pathsim.motion.paths import LinePath
from pathsim.transforms import exp_rotation, frozen, inverse, pose, translation
from tests.builders import cell, joint, linear, seam, shop_arm
from tests.motion import ideal_oracle

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])


def moved(c, q, offset, turn=None):
    """Joints whose tip stands ``offset`` (base frame, m) from that of ``q``."""
    T = c.arm.pose(q) @ c.torch.T_flange_tcp
    goal = translation(offset) @ T
    if turn is not None:
        goal = goal @ pose(turn, [0, 0, 0])
    found = c.arm.inverse(goal @ inverse(c.torch.T_flange_tcp))
    return found[np.argmin(np.abs(found - q).max(axis=1))]


def worst_miss(c, track, motion):
    """Largest bound on any arm point's distance from its ideal place, looked at densely."""
    t = np.linspace(track.t[0], track.t[-1], 3001)
    q = track.q_at(t)
    T = ideal_oracle.tool(motion, t - track.t[0])
    seen = c.arm.pose(q) @ c.torch.T_flange_tcp
    return np.linalg.norm((seen - T)[:, :3, 3], axis=1).max()


@given(arrays(float, 3, elements=st.floats(-0.12, 0.12)))
@settings(max_examples=25, deadline=None)
def test_knots_of_straight_moves_keep_the_error_bound(offset):
    base = cell({"home": HOME}, [joint("home")])
    end = moved(base, HOME, offset)
    c = cell({"home": HOME, "end": end}, [linear("end", 0.25)])
    track = plan_program(c).tracks[0]
    assert track.fault is None
    np.testing.assert_allclose(track.q[-1], end, atol=1e-6)
    start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    path = LinePath(start, c.arm.pose(end) @ c.torch.T_flange_tcp)
    motion = cartesian_motion(c, c.program.moves[0], path, HeldWay.evenly(np.zeros(0), np.zeros(0)))
    if track.speed_ratio.max(initial=0) <= 1:
        assert worst_miss(c, track, motion) <= PATH_ERROR * 1.2


@pytest.mark.parametrize("pattern", list(Pattern))
@pytest.mark.parametrize("counts", list(DwellCounts))
def test_knots_of_a_woven_seam_keep_the_error_bound(pattern, counts):
    weave = Weave("w", pattern, 0.003, 2.0, 0.05, 0.08, counts)
    base = cell({"home": HOME}, [joint("home")])
    end = moved(base, HOME, [0.0, 0.06, 0.0])
    c = cell({"home": HOME, "end": end}, [seam("end", 0.008, weave, crater=0.4)])
    track = plan_program(c).tracks[0]
    assert track.duration == pytest.approx(0.06 / 0.008 + 0.4)
    start = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    path = LinePath(start, c.arm.pose(end) @ c.torch.T_flange_tcp)
    motion = cartesian_motion(c, c.program.moves[0], path, HeldWay.evenly(np.zeros(0), np.zeros(0)))
    assert worst_miss(c, track, motion) <= PATH_ERROR * 1.2
    # the tip really goes to both sides, square to seam and torch
    t = np.linspace(0, track.duration, 5001)
    tips = (c.arm.pose(track.q_at(t)) @ c.torch.T_flange_tcp)[:, :3, 3]
    left = np.cross(-start[:3, 2], [0, 1, 0])
    left /= np.linalg.norm(left)
    side = (tips - start[:3, 3]) @ left
    assert side.max() == pytest.approx(0.003, abs=1e-4)
    assert side.min() == pytest.approx(-0.003, abs=1e-4)
    np.testing.assert_allclose(track.q[-1], end, atol=1e-5)


def test_dense_joint_error_covers_links_near_alignment():
    """Near a wrist alignment the tip looks still while links turn; knots must follow those."""
    q = np.array([0.0, 0.3, 0.2, 0.5, 0.09, 0.0])
    base = cell({"home": q}, [joint("home")])
    end = moved(base, q, [0.0, 0.04, 0.0])
    c = cell({"home": q, "end": end}, [linear("end", 0.05)])
    track = plan_program(c).tracks[0]
    start = c.arm.pose(q) @ c.torch.T_flange_tcp
    path = LinePath(start, c.arm.pose(end) @ c.torch.T_flange_tcp)
    motion = cartesian_motion(c, c.program.moves[0], path, HeldWay.evenly(np.zeros(0), np.zeros(0)))
    middles = (track.t[:-1] + track.t[1:]) / 2
    from pathsim.arm import follower

    ideal, solved = follower(c.arm, q)(ideal_oracle.flange(motion, middles), track.q_at(middles))
    assert solved.all()
    miss = np.abs(ideal - track.q_at(middles)) @ longest_levers(c)
    assert miss.max() <= PATH_ERROR * 1.01


def test_no_arm_point_is_farther_than_the_error_bound_between_the_checked_places():
    """Many moves that turn too, looked at far more densely than the knots were checked."""
    from pathsim.arm import follower

    rng = np.random.default_rng(5)
    worst = []
    while len(worst) < 25:
        q = HOME + rng.uniform(-1, 1, 6) * [1, 0.3, 0.3, 2, 1.0, 2]
        base = cell({"home": q}, [joint("home")])
        try:
            turn = exp_rotation(rng.uniform(-0.6, 0.6, 3))
            end = moved(base, q, rng.uniform(-0.15, 0.15, 3), turn)
        except ValueError:
            continue  # out of reach
        c = cell({"home": q, "end": end}, [linear("end", 0.2)])
        track = plan_program(c).tracks[0]
        if track.fault is not None or track.speed_ratio.max() > 1:
            continue
        start = c.arm.pose(q) @ c.torch.T_flange_tcp
        path = LinePath(start, c.arm.pose(end) @ c.torch.T_flange_tcp)
        motion = cartesian_motion(
            c, c.program.moves[0], path, HeldWay.evenly(np.zeros(0), np.zeros(0))
        )
        times = np.linspace(track.t[0], track.t[-1], 3001)
        even = track.q_at(times)
        ideal, solved = follower(c.arm, q, end)(ideal_oracle.flange(motion, times), even)
        assert solved.all()
        worst.append((np.abs(ideal - even) @ longest_levers(c)).max())
    assert max(worst) <= PATH_ERROR * 1.05
    assert max(worst) > PATH_ERROR * 0.8  # and no more knots than the bound asks for


def test_moves_follow_each_other_without_gaps():
    base = cell({"home": HOME}, [joint("home")])
    a, b = moved(base, HOME, [0.05, 0, -0.05]), moved(base, HOME, [0.05, 0.1, -0.05])
    c = cell({"home": HOME, "a": a, "b": b}, [joint("a"), seam("b"), joint("home")])
    tracks = plan_program(c).tracks
    for before, after in itertools.pairwise(tracks):
        assert before.t[-1] == after.t[0]
        np.testing.assert_array_equal(before.q[-1], after.q[0])
        assert after.continuous
    for track in tracks:
        assert (np.diff(track.t) > 0).all()
    np.testing.assert_allclose(tracks[-1].q[-1], HOME)


def test_joint_speed_limits_stretch_a_move():
    base = cell({"home": HOME}, [joint("home")])
    end = moved(base, HOME, [0.0, 0.2, 0.0])
    slow = dataclasses.replace(shop_arm(), speed=frozen(np.full(6, 0.05)))
    c = cell({"home": HOME, "end": end}, [linear("end", 0.5)], arm=slow)
    track = plan_program(c).tracks[0]
    speed = np.abs(np.diff(track.q, axis=0)) / np.diff(track.t)[:, None]
    assert track.speed_ratio.max() > 2
    assert speed.max() <= 0.05 * (1 + 1e-9)
    assert track.duration > track.planned_duration * 1.5


def test_out_of_reach_stops_the_track_and_says_where():
    base = cell({"home": HOME}, [joint("home")])
    T = base.arm.pose(HOME) @ base.torch.T_flange_tcp
    far = translation([2.0, 0, 0]) @ T
    points = {"home": HOME, "far": Point("far", None, frozen(far))}
    c = cell(points, [linear("far"), joint("home")])
    first, second = plan_program(c).tracks
    assert first.fault.kind is FaultKind.REACH
    assert 0.01 < first.fault.share < 0.99
    assert not second.continuous
    reached = base.arm.pose(first.q[-1])[:3, 3]
    # the wrist is at full stretch there: shoulder to wrist is upper arm plus forearm
    stretch = np.hypot(0.13, 0.64) + 0.59
    wrist = reached - base.arm.pose(first.q[-1])[:3, 2] * 0.1
    shoulder = base.arm.axis_frames(first.q[-1])[1, :3, 3]
    assert np.linalg.norm(wrist - shoulder) == pytest.approx(stretch, abs=2e-3)


def test_unreachable_start_cannot_be_checked():
    c = cell({"home": HOME}, [joint("home")])
    nowhere = Point("home", None, frozen(translation([5.0, 0, 0])))
    with pytest.raises(CannotCheck, match="start point 'home'"):
        plan_program(dataclasses.replace(c, points={"home": nowhere}))


def test_a_move_through_exact_alignment_is_a_leap():
    """Straight through the wrist's own axis the arm cannot keep its branch: joint 4 flips."""
    arm = shop_arm()
    q0 = np.array([0.0, 0.2, 0.3, 0.0, 0.4, 0.0])
    q1 = np.array([0.0, 0.25, 0.2, 0.0, -0.3, 0.0])
    c = cell({"home": q0, "end": q1}, [linear("end", 0.05)], arm=arm)
    track = plan_program(c).tracks[0]
    assert track.fault is not None and track.fault.kind is FaultKind.JUMP
    assert track.fault.joint in ("joint 4", "joint 6")


def test_arrival_in_another_turn_is_noted():
    base = cell({"home": HOME}, [joint("home")])
    end = moved(base, HOME, [0.0, 0.05, 0.0])
    other = end + [0, 0, 0, 0, 0, 2 * np.pi]
    c = cell({"home": HOME, "end": other}, [linear("end")])
    notes = plan_program(c).notes
    assert [note.kind for note in notes] == ["arrives otherwise"]
    assert (
        notes[0].axis == 5
        and notes[0].taught is None
        and notes[0].turn == pytest.approx(-2 * np.pi, abs=1e-6)
    )


def test_pose_alone_takes_the_nearest_posture_and_says_so():
    base = cell({"home": HOME}, [joint("home")])
    end = moved(base, HOME, [0.0, 0.05, 0.0])
    T = base.arm.pose(end) @ base.torch.T_flange_tcp
    c = cell({"home": HOME, "end": Point("end", None, frozen(T))}, [joint("end")])
    trajectory = plan_program(c)
    np.testing.assert_allclose(trajectory.tracks[0].q[-1], end, atol=1e-8)
    assert [(n.kind, n.point) for n in trajectory.notes] == [("posture picked", "end")]


def test_joints_and_pose_that_disagree_are_noted():
    base = cell({"home": HOME}, [joint("home")])
    T = translation([0.003, 0, 0]) @ base.arm.pose(HOME) @ base.torch.T_flange_tcp
    c = dataclasses.replace(base, points={"home": Point("home", frozen(HOME), frozen(T))})
    (note,) = plan_program(c).notes
    assert note.kind == "pose disagrees" and note.amount == pytest.approx(0.003)


def test_arc_in_a_line_names_the_move():
    base = cell({"home": HOME}, [joint("home")])
    a, b = moved(base, HOME, [0, 0.05, 0]), moved(base, HOME, [0, 0.1, 0])
    move = Move(MoveKind.ARC, "b", 0.1, via="a", line=12)
    c = cell({"home": HOME, "a": a, "b": b}, [move])
    with pytest.raises(MotionError, match=r"move 1, to 'b' \(line 12 of the cell file\).*line"):
        plan_program(c)


def test_a_move_that_would_never_end_is_refused():
    base = cell({"home": HOME}, [joint("home")])
    end = moved(base, HOME, [0, 0.05, 0])
    for move in (joint("end", 1e-9), linear("end", 1e-9), seam("end", 1e-9)):
        with pytest.raises(MotionError, match="would take"):
            plan_program(cell({"home": HOME, "end": end}, [move]))


def test_a_seam_without_length_is_refused():
    c = cell({"home": HOME}, [seam("home")])
    with pytest.raises(MotionError, match="needs a length"):
        plan_program(c)


def test_detour_of_a_joint_move():
    """Joint 1 alone turns the tip on a circle: the detour is the arc's height."""
    turned = HOME + [1.0, 0, 0, 0, 0, 0]
    c = cell({"home": HOME, "turned": turned}, [joint("turned")])
    track = plan_program(c).tracks[0]
    tip = (c.arm.pose(HOME) @ c.torch.T_flange_tcp)[:3, 3]
    radius = np.hypot(tip[0], tip[1])
    assert track.detour == pytest.approx(radius * (1 - np.cos(0.5)), rel=1e-3)
    assert track.tip_length == pytest.approx(radius, rel=1e-3)


@given(st.lists(st.floats(0.0, 1.0), max_size=12), st.lists(st.integers(0, 11), max_size=6),
       st.floats(-2e-7, 2e-7))  # fmt: skip
def test_times_of_knots_have_both_ends_and_no_two_nearly_the_same(coarse, again, by):
    """Corners that nearly coincide with coarse times, or with an end, make no second knot."""
    coarse = np.sort(np.concatenate([[0.0, 1.0], coarse]))
    near = [min(max(coarse[k % len(coarse)] + by, 0.0), 1.0) for k in again]
    breaks = np.sort(np.concatenate([[0.0, 1.0], near]))
    times = knot_times(breaks, coarse)
    assert times[0] == 0.0 and times[-1] == 1.0
    assert (np.diff(times) > 1e-7).all()
    asked = np.concatenate([breaks, coarse])
    assert np.isin(times, asked).all()
    # Each is told by a knot, or lies in a row of times that are nearly the same.
    assert np.abs(times[:, None] - asked).min(axis=0).max() <= 1e-7 * len(asked)


def test_kept_moves_do_not_hold_on_to_the_cell_that_they_were_laid_for():
    """A program that is edited for hours makes a cell with each edit, meshes and all."""
    laid = MoveCache()
    for turn in (0.0, 0.1, 0.2):
        c = cell({"home": HOME, "up": HOME + turn}, [linear("up"), joint("home")])
        assert all(track.fault is None for track in plan_program(c, laid).tracks)
        old = weakref.ref(c)
        del c
        gc.collect()
        assert old() is None


def test_a_straight_move_ends_without_last_bits_and_without_zeros_below_zero():
    q = np.array([[0.1, 0.2, 0.3], [-1e-17, 1 / 3, 2 / 3]])
    axes = Axes.of(cell({"home": HOME}, [joint("home")]).arm, None)
    axes = dataclasses.replace(axes, names=axes.names[:3], held=(2,))
    ended = without_last_bits(q.copy(), axes)
    assert np.array_equal(ended[0], q[0]) and ended[1, 2] == q[1, 2]
    assert ended[1, 0].tobytes() == np.float64(0.0).tobytes()
    assert ended[1, 1] == 0.333333333333
