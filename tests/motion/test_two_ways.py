"""Where a straight move may go on in another posture: found on either engine, and never silent."""

import dataclasses
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim import check
from pathsim.arm import Arm, Dimensions
from pathsim.arm.alignment import wrist_angle
from pathsim.arm.inverse import closed_form
from pathsim.arm.postures import measures
from pathsim.findings import Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.placement_tolerance import placement_tolerances
from pathsim.kernels.ready import ENGINE, REFERENCE
from pathsim.model import Point
from pathsim.motion import Alignment, FaultKind, plan_program
from pathsim.motion.two_ways import IN_LINE, OVER_SHOULDER, _may_be_near, first_two_ways
from pathsim.report.not_measured import not_measured
from pathsim.result.as_json import result_as_json
from pathsim.result.words import guaranteed
from pathsim.transforms import frozen
from tests.builders import (
    OFFSET_WRIST_ROWS,
    ball,
    body,
    joint,
    linear,
    puma,
    rail_arm,
    seam,
)
from tests.motion.forked_programs import BEFORE, BEHIND, program

DRAWN = Arm.from_dimensions(Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10))


@pytest.fixture(params=["kernels", "plain code"])
def engine(request, monkeypatch):
    if request.param == "plain code":
        monkeypatch.setenv(ENGINE, REFERENCE)


@pytest.mark.usefixtures("engine")
@pytest.mark.parametrize("tilt", [0.01, 0.05, 0.1, 0.3, 1.0])
def test_past_the_wrist_in_line(tilt):
    c = program(BEFORE, BEHIND, [linear("end")], tilt)
    (track,) = plan_program(c).tracks
    assert track.fault is None
    looked = wrist_angle(c.arm, track.q_at(np.linspace(*track.t[[0, -1]], 40000)))
    assert (track.fork.value is not None) == (looked.min() <= IN_LINE)
    if track.fork.value is not None:
        assert track.fork.value.what is Alignment.WRIST
        assert track.fork.value.measure == pytest.approx(looked.min(), rel=0.03)
        assert track.sure_until == pytest.approx(track.t[0] + track.fork.value.after)
        first = looked.argmax() if looked.max() <= IN_LINE else np.argmax(looked <= IN_LINE)
        assert track.fork.value.after == pytest.approx(first / 39999 * track.duration, rel=0.02)


@pytest.mark.usefixtures("engine")
def test_right_through_the_wrist_in_line_the_move_breaks_off():
    (track,) = plan_program(program(BEFORE, BEHIND, [linear("end")])).tracks
    assert track.fault.kind is FaultKind.JUMP and track.fork.value is None


@pytest.mark.usefixtures("engine")
@pytest.mark.parametrize("fifth", [0.3, -0.3])
def test_a_wrist_in_line_at_either_end(fifth):
    """Out of it the posture is taken that sets out without a leap; it is said all the same."""
    line, off = BEFORE * [1, 1, 1, 1, 0, 1], BEHIND.copy()
    off[4] = fifth
    (out,) = plan_program(program(line, off, [linear("end")])).tracks
    assert out.fault is None and out.fork.value.after == 0.0 and out.sure_until == 0.0
    np.testing.assert_allclose(out.q[-1], off, atol=1e-9)
    (back,) = plan_program(program(off, line, [linear("end")])).tracks
    assert back.fork.value.what is Alignment.WRIST
    assert back.fork.value.after > 0.9 * back.duration


def test_a_wrist_over_the_shoulder_and_a_stretched_elbow():
    arm = DRAWN
    q = np.array([0.3, -0.5, -0.2, 0.4, 0.6, 0.1])
    over = None
    for second in np.linspace(-1.6, 0.4, 20001):  # the wrist's centre over axis 1
        q[1] = second
        m = float(measures(arm, q).shoulder)
        if over is not None and m * over[1] < 0:
            break
        over = (second, m)
    t, X = np.arange(3.0), np.eye(4)
    rows = np.stack([q + [0, 0.1, 0, 0, 0, 0], q, q - [0, 0.1, 0, 0, 0, 0]])
    found = first_two_ways(arm, X, t, rows, breaks_off=False)
    assert found.what is Alignment.SHOULDER and found.after == 1.0
    assert found.measure <= OVER_SHOULDER
    straight = np.arctan2(0.64, 0.13)  # where the drawn forearm lies along the upper arm
    rows = np.tile([0.3, 0.2, 0.0, 0.4, 0.6, 0.1], (3, 1))
    for third in (straight, -straight, straight - np.pi, np.pi - straight):
        rows[:, 2] = third + np.array([0.2, 0.0, -0.2])
        if abs(float(measures(arm, rows[1]).elbow)) > 1e-9:
            continue
        found = first_two_ways(arm, X, t, rows, breaks_off=False)
        assert found.what is Alignment.ELBOW and found.measure < 1e-9
        assert first_two_ways(arm, X, t[:2], rows[:2], breaks_off=True) is None
        break
    else:
        pytest.fail("the drawn arm stretches nowhere")


@given(arrays(float, (40, 6), elements=st.floats(-3.2, 3.2)), st.sampled_from([DRAWN, puma()]))
@settings(max_examples=40, deadline=None)
def test_the_cheap_look_lets_nothing_by(q, arm):
    """Put near each alignment by hand: what ``measures`` calls near is looked at."""
    fifth = np.linspace(-1e-3, 1e-3, len(q))
    q[:, 4] = np.where(np.arange(len(q)) % 2, fifth, np.pi + fifth)
    found = measures(arm, q)
    near = (np.abs(found.wrist) <= IN_LINE) | (np.abs(found.elbow) <= IN_LINE)
    near |= np.abs(found.shoulder) <= OVER_SHOULDER
    assert near.any() and np.isin(np.flatnonzero(near), _may_be_near(closed_form(arm), q)).all()
    far = (np.abs(found.elbow) > 0.05) & (np.abs(found.shoulder) > 0.02)
    q[:, 4] = 1.0
    assert not far[_may_be_near(closed_form(arm), q)].any()


def test_a_rail_changes_nothing():
    c = program(BEFORE, BEHIND, [linear("end")], 0.05)
    track = plan_program(c).tracks[0]
    rows = np.column_stack([np.linspace(0, 1, len(track.q)), track.q])
    arm, X = rail_arm(), c.torch.T_flange_tcp
    assert first_two_ways(arm, X, track.t, rows, False) == track.fork.value


def test_an_arm_without_a_spherical_wrist():
    """Its determinant changes sign where two postures meet, at whatever knots it is looked at."""
    arm = Arm.from_dh(OFFSET_WRIST_ROWS, "standard", limits=np.tile([-3.1, 3.1], (6, 1)))
    q = np.tile([0.2, -0.5, 0.9, 0.3, 0.7, 0.1], (5, 1))
    t = np.arange(5.0)
    assert first_two_ways(arm, np.eye(4), t, q, breaks_off=False) is None
    q[:, 4] = [0.4, 0.2, 0.05, -0.1, -0.3]  # joints 4 and 6 of this arm line up at zero
    det = np.linalg.det(arm.jacobian(q))
    crossing = np.flatnonzero(det[1:] * det[:-1] < 0)
    assert len(crossing) == 1
    found = first_two_ways(arm, np.eye(4), t, q, breaks_off=False)
    assert found.what is Alignment.JOINTS and found.after == float(crossing[0])


def far_off(moves, tilt=0.05):
    return program(BEFORE, BEHIND, moves, tilt, bodies=[body(ball(0.03), at=(0, 0, -3.0))])


def test_what_follows_is_unsure_until_taught_joint_values_are_come_to():
    up = BEHIND + [0, -0.05, 0, 0, 0, 0]
    moves = [joint("start"), linear("end"), linear("up"), joint("home"), joint("start")]
    c = far_off(moves)
    T = c.arm.pose(up) @ c.torch.T_flange_tcp
    c = dataclasses.replace(c, points={**c.points, "up": Point("up", None, frozen(T))})
    result = check(c)
    tracks = result.trajectory.tracks
    unsure = [track.sure_until for track in tracks]
    assert unsure[0] is None and unsure[4] is None
    assert tracks[1].t[0] < unsure[1] < tracks[1].t[-1]
    assert unsure[2:4] == [tracks[2].t[0], tracks[3].t[0]]
    (finding,) = [f for f in result.findings if f.kind is FindingKind.TWO_WAYS]
    assert finding.level is Level.WATCH and finding.move == 2 and "moves 3 and 4" in finding.text
    assert not result.is_clear
    (item,) = [i for i in result.left_out if "other posture" in i.what]
    assert item.moves == (2, 3, 4) and not item.is_agreed
    said = [guaranteed(move, result.cap) for move in result.moves]
    assert ["one posture" in text for text in said] == [False, True, True, True, False]
    document = json.loads(result_as_json(result))
    until = [move["guaranteed_until_s"] for move in document["moves"]]
    assert until == [None, *(pytest.approx(u) for u in unsure[1:4]), None]
    assert "posture" in placement_tolerances(c, result.moves)[0].unknown
    said = [line for line in not_measured(result) if "other posture" in line]
    assert [line.split()[1] for line in said] == ["2", "3", "4"]
    sure = check(far_off([joint("start"), linear("end"), joint("home")], tilt=1.0))
    assert all(track.sure_until is None for track in sure.trajectory.tracks)
    assert not any("posture" in item.what for item in sure.left_out)


def test_on_a_seam_it_is_a_stop():
    result = check(far_off([seam("end", 0.05), joint("home")]))
    (finding,) = [f for f in result.findings if f.kind is FindingKind.TWO_WAYS]
    assert finding.level is Level.STOP and "joint move" not in finding.text
