"""Posture words and singularity measures: against geometry seen from outside, and closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from pathsim.arm import Arm, Dimensions
from pathsim.arm.alignment import characteristic_length, smallest_singular_value
from pathsim.arm.postures import (
    Elbow,
    Posture,
    Shoulder,
    Wrist,
    measures,
    posture_of,
    read_posture,
)
from pathsim.arm.readings import ReadingsMap
from pathsim.errors import ArmError
from pathsim.transforms import pose, rotation_about
from tests.builders import OFFSET_WRIST_ROWS, puma, rail_arm, shop_arm

six = arrays(float, 6, elements=st.floats(-3.0, 3.0))
DRAWN = Arm.from_dimensions(Dimensions(0.43, 0.16, 0.59, 0.13, 0.64, 0.10))


@given(six, st.sampled_from([DRAWN, puma()]))
@settings(max_examples=80, deadline=None)
def test_the_eight_solutions_have_eight_names(q, arm):
    m = measures(arm, q)
    if min(abs(float(m.shoulder)), abs(float(m.elbow)), abs(float(m.wrist))) < 1e-3:
        return
    found = arm.inverse(arm.pose(q))
    names = [posture_of(arm, row) for row in found]
    assert len(set(names)) == len(names) == len(found)
    assert posture_of(arm, q) in names
    same = [row for row, name in zip(found, names, strict=True) if name == posture_of(arm, q)]
    gap = same[0] - q
    assert np.abs(gap - 2 * np.pi * np.round(gap / (2 * np.pi))).max() < 1e-6


def test_words_say_what_is_seen_from_the_side():
    assert posture_of(DRAWN, [0, 0, 0, 0, 0.5, 0]) == Posture(
        Shoulder.AHEAD, Elbow.HIGH, Wrist.PLUS
    )
    assert posture_of(DRAWN, [2.0, 0, 0, 0, -0.5, 3]) == Posture(
        Shoulder.AHEAD, Elbow.HIGH, Wrist.MINUS
    )
    # leaning far back with the forearm over the shoulder: the wrist is behind axis 1
    assert posture_of(DRAWN, [0, -1.5, 0, 0, 0.5, 0]).shoulder is Shoulder.BEHIND
    # forearm lifted past the line of the upper arm: the elbow hangs below the line
    lifted = [0, 1.2, -2.2, 0, 0.5, 0]
    frames = DRAWN.axis_frames(lifted)
    shoulder, elbow, wrist = frames[1, :3, 3], frames[2, :3, 3], frames[4, :3, 3]
    line = shoulder + (wrist - shoulder) * (elbow - shoulder)[0] / (wrist - shoulder)[0]
    assert elbow[2] < line[2] and posture_of(DRAWN, lifted).elbow is Elbow.LOW


@given(six)
def test_puma_measures_are_the_factors_of_its_determinant(q):
    """|det J| = a2 |d4 c3 + a3 s3| |a2 c2 + a3 c23 - d4 s23| |sin q5|, exact for this arm."""
    m = measures(puma(), q)
    forearm = np.hypot(0.4318, 0.0203)
    det = 0.4318 * forearm * np.sin(m.elbow) * m.shoulder * np.sin(m.wrist)
    assert abs(det) == pytest.approx(abs(np.linalg.det(puma().jacobian(q))), abs=1e-12)


def test_puma_singular_postures():
    # Elbow: q3 = -87.308364 or 92.691636 deg, not -90, since a3 is not 0 (the factor above).
    for degrees in (-87.308364, 92.691636):
        assert measures(puma(), [0.1, 0.2, np.radians(degrees), 0.4, 0.5, 0.6]).elbow == (
            pytest.approx(0, abs=1e-8)
        )
    assert measures(puma(), [0.1, 0.2, 0.3, 0.4, np.pi, 0.6]).wrist == pytest.approx(0, abs=1e-12)
    # shoulder: a2 c2 + a3 c23 - d4 s23 = 0 solved for q2 at q3 = 0.3
    c3, s3 = np.cos(0.3), np.sin(0.3)
    q2 = np.arctan2(0.4318 + 0.0203 * c3 - 0.4318 * s3, 0.0203 * s3 + 0.4318 * c3)
    m = measures(puma(), [0.1, q2, 0.3, 0.4, 0.5, 0.6])
    assert m.shoulder == pytest.approx(0, abs=1e-12)


def test_lynch_and_park_pose_is_an_elbow_singularity():
    # Modern Robotics, Example 4.5 (number from memory): joints 2 and 3 in one line.
    rows = [(0, -np.pi / 2, 0.089), (0.425, 0, 0), (0.392, 0, 0), (0, -np.pi / 2, 0.109),
            (0, np.pi / 2, 0.095), (0, 0, 0.082)]  # fmt: skip
    arm = Arm.from_dh(rows, "standard")
    q = np.array([0, -np.pi / 2, 0, 0, np.pi / 2, 0])
    length = characteristic_length(arm)
    assert smallest_singular_value(arm, q, length) == pytest.approx(0, abs=1e-12)
    assert smallest_singular_value(arm, q + [0, 0, 0.4, 0, 0, 0], length) > 0.02


def test_a_rail_changes_no_word_and_no_measure():
    q = np.array([0.3, 0.2, 0.4, 0.5, -0.6, 0.7])
    assert posture_of(rail_arm(), [0.9, *q]) == posture_of(shop_arm(), q)


def test_singular_value_falls_to_zero_with_any_arm():
    arm = Arm.from_dh(OFFSET_WRIST_ROWS, "standard")
    rng = np.random.default_rng(1)
    q = rng.uniform(-2, 2, (200, 6))
    values = smallest_singular_value(arm, q, 0.5)
    scaled = arm.jacobian(q)
    scaled[:, :3] /= 0.5
    # product of all singular values is |det|: the smallest is at most its sixth root
    assert (values <= np.abs(np.linalg.det(scaled)) ** (1 / 6) + 1e-12).all()


def test_wrist_spin_of_a_move_past_alignment_in_closed_form():
    """Tip speed v square to the wrist's plane at d from its centre: |q4'| = v / (d |sin q5|)."""
    arm = DRAWN
    for degrees, expected in ((1, 109.432), (2, 54.725), (5, 21.913), (10, 10.998)):
        q = np.array([0.2, 0.3, -0.1, 0.4, np.radians(degrees), 0.0])
        frames = arm.axis_frames(q)
        centre, sixth = frames[4, :3, 3], frames[5, :3, 2]
        tip = centre + 0.3 * sixth
        across = frames[4, :3, 2]  # along axis 5: square to the plane of axes 4 and 6
        # velocity of the tip from joints 4 to 6 alone, the arm's first three still
        J = np.array([np.cross(f[:3, 2], tip - f[:3, 3]) for f in frames[3:]]).T
        rates = np.linalg.lstsq(J[:, :2], 0.010 * across, rcond=None)[0]
        assert np.degrees(abs(rates[0])) == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("ahead high sideways", "no posture word"),
        ("ahead behind", "twice"),
        ("high HIGH", "twice"),
        ("front high", "'front' is now 'ahead'"),
        ("Back", "'Back' is now 'behind'"),
        ("up", "'up' is now 'high'"),
        ("ahead down plus", "'down' is now 'low'"),
    ],
)
def test_words_that_cannot_be_meant(text, says):
    with pytest.raises(ArmError, match=says):
        read_posture(text)


def test_words_in_any_order():
    assert read_posture("Minus, ahead") == Posture(Shoulder.AHEAD, wrist=Wrist.MINUS)
    assert str(read_posture("minus low behind")) == "behind low minus"
    assert not read_posture(" ") and not Posture() and Posture(elbow=Elbow.LOW)
    with pytest.raises(ArmError, match="no names"):
        posture_of(Arm.from_dh(OFFSET_WRIST_ROWS, "standard"), np.zeros(6))


def test_part_of_a_posture_is_met_by_what_has_that_part():
    whole = Posture(Shoulder.AHEAD, Elbow.LOW, Wrist.MINUS)
    assert Posture().is_met_by(whole) and whole.is_met_by(whole)
    assert Posture(elbow=Elbow.LOW).is_met_by(whole)
    for wrong in (
        Posture(Shoulder.BEHIND), Posture(elbow=Elbow.HIGH), Posture(wrist=Wrist.PLUS),
    ):  # fmt: skip
        assert not wrong.is_met_by(whole)


def test_an_axis_1_that_points_into_the_foot_changes_no_word():
    """The same arm described with joint 1 counting the other way: seen from outside it is one."""
    rng = np.random.default_rng(3)
    flip = pose(rotation_about([1.0, 0.0, 0.0], np.pi), np.zeros(3))
    fixed, ends = DRAWN.fixed.copy(), DRAWN.ends.copy()
    fixed[0] = fixed[0] @ flip
    fixed[1] = flip @ fixed[1]
    ends[0] = flip @ ends[0]
    other = Arm.from_chain(fixed, ends)
    for q in rng.uniform(-2.5, 2.5, (60, 6)):
        turned = q * [-1, 1, 1, 1, 1, 1]
        np.testing.assert_allclose(other.pose(turned), DRAWN.pose(q), atol=1e-12)
        assert posture_of(other, turned) == posture_of(DRAWN, q)


def test_a_display_that_counts_joint_5_the_other_way_reads_plus_where_it_shows_plus():
    signs = [1, 1, 1, 1, -1, 1]
    shown = DRAWN.with_readings(ReadingsMap.of(signs, np.zeros(6)))
    q = [0, 0, 0, 0, 0.5, 0]
    assert shown.readings.shown(q)[4] < 0 and posture_of(shown, q).wrist is Wrist.MINUS
    assert posture_of(DRAWN, q).wrist is Wrist.PLUS


@pytest.mark.parametrize("rail", [False, True])
def test_words_are_the_arms_own_however_it_hangs(rail):
    """An arm that hangs has its high elbow nearer to the floor: it is high seen from its foot."""
    arm = rail_arm(DRAWN) if rail else DRAWN
    q = np.array([0.2, 0.4, 0.3, 0.1, 0.5, 0.2])
    full = np.append([0.4], q) if rail else q
    assert posture_of(arm, full).elbow is Elbow.HIGH
    frames = arm.axis_frames(full)[-6:]
    elbow, middle = frames[2, :3, 3], (frames[1, :3, 3] + frames[4, :3, 3]) / 2
    hung = rotation_about([1.0, 0.0, 0.0], np.pi)
    assert elbow[2] > middle[2] and (hung @ elbow)[2] < (hung @ middle)[2]


@pytest.mark.parametrize("arm", [DRAWN, puma(), shop_arm()])
def test_a_high_elbow_is_above_the_line_whatever_way_the_axes_point(arm):
    """Seen from outside: heights of the elbow and of the line from axis 2 to the wrist centre."""
    rng = np.random.default_rng(6)
    seen = set()
    for q in rng.uniform(-2.5, 2.5, (300, 6)):
        frames = arm.axis_frames(q)
        shoulder, elbow, wrist = (frames[i, :3, 3] for i in (1, 2, 4))
        axis = frames[1, :3, 2]
        flat = lambda v, axis=axis: v - (v @ axis) * axis  # noqa: E731 - in the arm's plane
        reach, rise = flat(wrist - shoulder), flat(elbow - shoulder)
        out = np.cross(np.cross([0, 0, 1.0], reach), [0, 0, 1.0])
        if posture_of(arm, q).shoulder is not Shoulder.AHEAD or np.linalg.norm(out) < 0.2:
            continue
        ahead = flat(wrist) @ out > 0 and flat(wrist - shoulder) @ out > 0
        if not ahead or abs(rise @ out) > 0.9 * np.linalg.norm(out) ** 2:
            continue
        line = reach[2] * (rise @ out) / (reach @ out)
        if abs(rise[2] - line) > 1e-3 and rise @ out > 0:
            elbow = posture_of(arm, q).elbow
            assert elbow is (Elbow.HIGH if rise[2] > line else Elbow.LOW)
            seen.add(elbow)
    assert seen == {Elbow.HIGH, Elbow.LOW}
