"""How fast the wire's tip goes at an override, against the same program laid at that override."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.findings.tip_speed import REDUCED_SPEED, TipSpeeds, tip_speed
from pathsim.model import MoveKind, Pattern, Weave
from pathsim.motion import plan_program
from pathsim.transforms import frozen
from tests.builders import cell, joint, linear, seam
from tests.motion.seam_cells import HOME, seam_cell

SAMPLES = Path(__file__).parents[2] / "sample_cells"
SOUND = ["gate_hinge", "turned_collar", "hanging_rail", "offset_wrist", "wrist_in_line"]


def test_a_turn_of_one_joint_in_closed_form():
    """The tip goes round joint 1 at its distance from the axis, at the share asked for."""
    turned = HOME + np.radians([100.0, 0, 0, 0, 0, 0])
    c = cell({"home": HOME, "there": turned}, [joint("there", 0.5)])
    (track,) = plan_program(c).tracks
    radius = np.linalg.norm(c.tips(HOME[None])[0, :2])
    top = 0.5 * c.arm.speed[0] * radius
    speeds = TipSpeeds.of(c, plan_program(c))
    assert speeds.most(1.0)[0] == pytest.approx(top, rel=1e-3)
    assert speeds.most(0.3) == (pytest.approx(0.3 * top, rel=1e-3), 1)
    # the largest whole percent that does not go over 250 mm/s
    kept = speeds.override_for()
    assert kept == np.floor(100 * REDUCED_SPEED / top) / 100
    assert speeds.most(kept)[0] <= REDUCED_SPEED < speeds.most(kept + 0.01)[0]
    assert track.number == 1


def test_a_short_straight_move_that_never_comes_to_its_speed():
    """10 mm at 3 m/s^2: the top is sqrt(3 x 0.01), and half the override does not halve it."""
    c = seam_cell({"end": (0.01, 0, 0)}, [linear("end", 1.2)])
    c = dataclasses.replace(c, tip_jerk=np.inf)
    speeds = TipSpeeds.of(c, plan_program(c))
    top = np.sqrt(3.0 * 0.01)
    assert speeds.most(1.0)[0] == pytest.approx(top, rel=0.03)
    assert speeds.most(0.5)[0] == pytest.approx(top, rel=0.03)
    assert speeds.most(0.05)[0] == pytest.approx(0.06, rel=1e-3)


def test_a_seam_is_stretched_evenly_weave_and_all():
    weave = Weave("w", Pattern.ZIGZAG, 0.002, 2.0)
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", 0.005)], weave)
    speeds = TipSpeeds.of(c, plan_program(c))
    top = np.hypot(4 * 0.002 * 2.0, 0.005)
    assert speeds.most(1.0)[0] == pytest.approx(top, rel=0.1)
    assert speeds.most(0.5)[0] == pytest.approx(speeds.most(1.0)[0] / 2)
    assert speeds.override_for() == 1.0


@pytest.mark.parametrize("override", [0.1, 0.5])
@pytest.mark.parametrize("name", SOUND)
def test_never_less_than_the_program_laid_at_that_override(name, override):
    """An oracle that knows nothing of caps: every speed of the program times the override."""
    c = pathsim.load_cell(SAMPLES / name)
    trajectory = plan_program(c)
    slow_moves = tuple(
        dataclasses.replace(
            m,
            speed=m.speed * override,
            weave=m.weave
            and dataclasses.replace(
                m.weave,
                frequency=m.weave.frequency * override,
                dwell_left=m.weave.dwell_left / override,
                dwell_right=m.weave.dwell_right / override,
            ),
        )
        for m in c.program.moves
    )
    slow = dataclasses.replace(c, program=dataclasses.replace(c.program, moves=slow_moves))
    for track, laid in zip(trajectory.tracks, plan_program(slow).tracks, strict=True):
        said = tip_speed(c, track).most(override)
        true = tip_speed(slow, laid).most(1.0)
        assert said >= true * (0.97 if track.move.arc_on else 0.995)
        # told at most, and no more than a tenth above it
        assert said <= 1.1 * true + 1e-3 or track.move.kind is MoveKind.JOINT


def test_no_override_is_slow_enough():
    c = cell({"home": HOME, "there": HOME + 0.5}, [joint("there", 1.0)])
    fast = dataclasses.replace(c.arm, speed=frozen(np.full(6, 120.0)),
                               acceleration=frozen(np.full(6, 870.0)))  # fmt: skip
    c = dataclasses.replace(c, arm=fast)
    assert TipSpeeds.of(c, plan_program(c)).override_for() is None


@pytest.mark.parametrize("name", ["gate_hinge", "collar_seam", "deep_channel"])
def test_never_less_than_anywhere_between_two_knots_of_a_joint_move(name):
    """Joints go evenly from knot to knot, the tip does not: looked at in 32 parts of each."""
    c = pathsim.load_cell(SAMPLES / name)
    for track in plan_program(c).tracks:
        if track.move.kind is MoveKind.JOINT:
            shares = np.arange(33) / 32
            times = track.t[:-1, None] + shares * np.diff(track.t)[:, None]
            tips = c.tips(track.q_at(times.ravel())).reshape(*times.shape, 3)
            way = np.linalg.norm(np.diff(tips, axis=1), axis=2)
            true = (way / np.diff(times, axis=1)).max()
            assert true <= tip_speed(c, track).most(1.0) <= 1.01 * true
