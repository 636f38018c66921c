"""No motion is left out for being short: a cut-off may lengthen a move, and never skips one."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pathsim.arm import Arm
from pathsim.clearance import MoveClearance, PairQuery, ReferenceEngine, Span
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import MotionError
from pathsim.model import Axes, Move, MoveKind, Point
from pathsim.motion import Trajectory, plan_program
from pathsim.motion.joint_move import lay_joint_move
from pathsim.motion.knots import knot_times
from pathsim.motion.time_scaling import SHORTEST_MOVE, SmoothLaw, Trapezoid, law_of
from pathsim.transforms import pose, rotation_about
from tests.builders import SHOP_ROWS, body, box, cell, joint, linear, seam, shop_arm

HOME = np.array([0.0, 0.2, 0.1, 0.0, 1.2, 0.0])
size = st.floats(1e-9, 1e12)


@given(h=st.floats(1e-9, 10), v=size, a=size, j=st.one_of(st.just(np.inf), size))
def test_a_law_lasts_a_while_and_keeps_its_shape(h, v, a, j):
    law = law_of(h, v, a, j)
    assert law.duration >= SHORTEST_MOVE * (1 - 1e-9)
    own = Trapezoid(h, v, a) if np.isinf(j) else SmoothLaw(h, v, a, j)
    shares = np.linspace(0, 1, 9)
    np.testing.assert_allclose(
        law.position(shares * law.duration), own.position(shares * own.duration), atol=1e-6 * h
    )


def test_an_acceleration_that_is_not_known_is_no_time_at_all():
    """A ramp in no time made a move of no time, which was left out."""
    law = law_of(1.0, 2.0, np.inf)
    assert law.duration == pytest.approx(0.5 + 1e-3)
    with pytest.raises(MotionError, match="speed limit"):
        law_of(1.0, np.inf, np.inf)
    with pytest.raises(MotionError, match="acceleration"):
        Trapezoid(1.0, 1.0, np.inf)


@pytest.mark.parametrize("turn", [2e-9, 1e-6, 1.0])
def test_a_joint_move_reaches_its_end_however_fast(turn):
    axes = dataclasses.replace(
        Axes.of(shop_arm(), None), speed=np.full(6, 1e12), acceleration=np.full(6, 1e15)
    )
    t, q = lay_joint_move(axes, HOME, HOME + turn, 1.0, np.ones(6))
    assert t[-1] >= SHORTEST_MOVE * (1 - 1e-9) and (np.diff(t) > 1e-9).all()
    np.testing.assert_array_equal(q[-1], HOME + turn)


def test_knots_of_a_motion_shorter_than_they_stand_apart_have_both_ends():
    np.testing.assert_array_equal(
        knot_times(np.array([0.0, 4e-8]), np.array([0.0, 2e-8, 4e-8])), [0.0, 4e-8]
    )


def moved(tip, turn=0.0):
    """Pose of the tool as at home, moved by ``tip`` m and turned about its z by ``turn``."""
    c = cell({"home": HOME}, [joint("home")])
    T = c.arm.pose(HOME) @ c.torch.T_flange_tcp
    return pose(np.eye(3), tip) @ T @ pose(rotation_about([0.0, 0.0, 1.0], turn), np.zeros(3))


@pytest.mark.parametrize("way", [3e-9, 1e-8, 1e-6])
@pytest.mark.parametrize("kind", ["linear", "seam"])
def test_a_straight_move_of_nanometres_is_laid(way, kind):
    end = Point("end", None, moved([way, 0, 0]))
    move = linear("end", 0.1) if kind == "linear" else seam("end", 0.5)
    (track,) = plan_program(cell({"home": HOME, "end": end}, [move])).tracks
    assert track.fault is None and len(track.t) > 1
    assert track.duration >= SHORTEST_MOVE * (1 - 1e-9)
    c = cell({"home": HOME}, [joint("home")])
    tips = c.tips(track.q)
    assert np.linalg.norm(tips[-1] - tips[0]) == pytest.approx(way, abs=1e-10)


def test_a_spot_at_which_the_torch_turns_turns_it():
    end = Point("end", None, moved([0, 0, 0], 0.3))
    c = cell({"home": HOME, "end": end}, [dataclasses.replace(seam("end"), crater=0.5)])
    (track,) = plan_program(c).tracks
    assert track.fault is None
    reached = c.arm.pose(track.q[-1]) @ c.torch.T_flange_tcp
    np.testing.assert_allclose(reached, end.T_base_tcp, atol=1e-9)
    assert track.duration > 0.5 + 0.1


def test_a_straight_move_of_the_held_joint_alone_is_laid():
    """The tip stands, the seventh joint goes, and nobody knows how fast it gets there."""
    rows = [*SHOP_ROWS[:2], (0.0, np.pi / 2, 0.0, 0.0), *SHOP_ROWS[2:]]
    arm = Arm.from_dh(rows, "standard", speed=np.full(7, 3.0))
    q = np.array([0.3, 0.3, 0.2, 0.4, 0.3, 0.9, 0.2])
    base = cell({"home": q}, [joint("home")], arm=arm)
    T = arm.pose(q) @ base.torch.T_flange_tcp
    end = Point("end", None, T, held=[q[2] + 0.2])
    (track,) = plan_program(cell({"home": q, "end": end}, [linear("end")], arm=arm)).tracks
    assert len(track.t) > 1 and track.duration >= 0.2 / 3.0
    if track.fault is None:
        assert track.q[-1, 2] == pytest.approx(q[2] + 0.2)


def through_a_clamp():
    place = (shop_arm().pose(HOME) @ [0, 0, 0.1, 1])[:3]
    turn = np.array([0.8, 0, 0, 0, 0, 0])
    points = {"home": HOME - turn / 2, "end": HOME + turn / 2}
    return cell(points, [joint("end")], bodies=[body(box((0.02,) * 3, place), "clamp")])


@pytest.mark.parametrize("quicker", [1.0, 1e-6, 1e-9, 1e-10, 1e-12])
@pytest.mark.parametrize("engine", [FastEngine, ReferenceEngine])
def test_a_move_of_less_than_the_clock_tells_still_goes_through_the_clamp(quicker, engine):
    """Knots at one tick of the clock were one knot: a way through a clamp read as clear."""
    c = through_a_clamp()
    trajectory = plan_program(c)
    track = dataclasses.replace(trajectory.tracks[0], t=trajectory.tracks[0].t * quicker)
    nozzle = next(p for p in c.pieces if p.name == "nozzle")
    (clamp,) = obstacles(c)
    used, t = engine(c), track.t
    half = float(t[np.searchsorted(t, t[-1] / 2)])
    for window in (Span(t[0], t[-1]), Span(0.3 * t[-1], t[-1]), Span(t[0], half)):
        (found,) = used.min_distance([PairQuery(track, nozzle, clamp, window)])
        assert found.touches
        assert used.on(track).intervals_below(nozzle, clamp, window, 0.0)


def test_the_chart_of_a_move_shorter_than_its_looks_stand_apart_has_its_end():
    c = through_a_clamp()
    track = plan_program(c).tracks[0]
    short = dataclasses.replace(track, t=track.t * 1e-10)
    profile = clearance_profile(
        c, Trajectory((short,)), moves=(MoveClearance(short, ()),), engine=ReferenceEngine(c)
    )
    assert profile.t[-1] == short.t[-1] and len(profile.t) > 1


def test_times_too_short_to_be_told_are_told_as_the_shortest():
    stand = dataclasses.replace(joint("home"), wait=1e-7)
    (track,) = plan_program(cell({"home": HOME}, [stand])).tracks
    assert track.duration == pytest.approx(SHORTEST_MOVE)
    with pytest.raises(MotionError, match=r"move 1, to 'end'.*would take"):
        plan_program(cell({"home": HOME, "end": HOME + 1}, [Move(MoveKind.JOINT, "end", 1e-6)]))
