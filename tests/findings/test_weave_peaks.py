"""Peaks of a weave's whole motion, what bends an arm, and which axis a weave asks too much of."""

import dataclasses
import math

import numpy as np
import pytest

from pathsim.clearance import ReferenceEngine
from pathsim.findings import Evidence
from pathsim.findings.acceleration import corner_share, joint_acceleration, travelled, woven_share
from pathsim.findings.amplitude import fitting_frequency
from pathsim.findings.weave_feasibility import weave_truth
from pathsim.findings.weave_peaks import one_cycle, swing, weave_peaks
from pathsim.model import DwellCounts, Pattern, Point, Weave
from pathsim.model.weave import TravelInDwell
from pathsim.motion import MoveCache, plan_program
from pathsim.motion.weaving import WeaveSchedule
from pathsim.transforms import frozen
from tests.builders import cell, joint, seam, turning_table
from tests.motion.seam_cells import HOME, seam_cell

A, F, V = 0.002, 2.0, 0.005
W = 2 * math.pi * F


def weave(pattern, **more):
    return Weave("w", pattern, A, F, **more)


# By hand, mm/s and mm/s2 with A 2 mm, 2 Hz, travel 5 mm/s: A w 25.13, A w^2 315.8.
@pytest.mark.parametrize(
    ("pattern", "speed", "acceleration"),
    [
        (Pattern.SINE, math.hypot(A * W, V), A * W**2),
        (Pattern.ZIGZAG, math.hypot(4 * A * F, V), 0.0),
        (Pattern.CIRCLE, A * W + V, A * W**2),
        (Pattern.EIGHT, math.hypot(A * W, A * W + V), 17 / 8 * A * W**2),
        (Pattern.CRESCENT, None, math.sqrt(2) * A * W**2),
    ],
)
def test_peaks_in_closed_form(pattern, speed, acceleration):
    found = weave_peaks(weave(pattern), V)
    if speed is not None:
        assert found.speed == pytest.approx(speed, rel=1e-6)
    assert found.acceleration == pytest.approx(acceleration, rel=1e-6)
    assert found.corner_leap == pytest.approx(8 * A * F if pattern is Pattern.ZIGZAG else 0.0)


def test_an_eight_is_told_with_its_whole_motion():
    found = weave_peaks(weave(Pattern.EIGHT), V)
    assert found.speed * 1e3 == pytest.approx(39.2, abs=0.05)
    assert found.acceleration * 1e3 == pytest.approx(671, abs=0.5)
    assert found.across * 1e3 == pytest.approx(25.1, abs=0.05)


@pytest.mark.parametrize("pattern", list(Pattern))
def test_peaks_are_those_of_the_motion_as_it_is_laid(pattern):
    """Speed and acceleration from differences of the wire's end on the part, knot by knot."""
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", V)], weave(pattern))
    (track,) = plan_program(c).tracks
    t = np.linspace(0.5, 3.5, 12001) + track.t[0]
    tips = c.tips_on_part(track.q_at(t))
    found = weave_peaks(weave(pattern), V)
    # over 10 ms: knots are up to 0.02 mm off the ideal path
    step = 40
    speed = np.linalg.norm(tips[step:] - tips[:-step], axis=1) / (t[step] - t[0])
    assert speed.max() == pytest.approx(found.speed, rel=0.06)
    if pattern is not Pattern.ZIGZAG:
        step = 100
        bend = tips[2 * step :] - 2 * tips[step:-step] + tips[: -2 * step]
        size = np.linalg.norm(bend, axis=1).max() / (t[step] - t[0]) ** 2
        assert size == pytest.approx(found.acceleration, rel=0.12)


# Where a dwell begins the weave stops at once: from its speed there, by hand.
@pytest.mark.parametrize(
    ("pattern", "sides", "centre"),
    [
        (Pattern.SINE, 0.0, A * W),
        (Pattern.ZIGZAG, 4 * A * F, 4 * A * F),
        (Pattern.CIRCLE, A * W, A * W),
        (Pattern.EIGHT, A * W, math.sqrt(2) * A * W),
        (Pattern.CRESCENT, 0.0, A * W),
    ],
)
def test_dwells_that_leap(pattern, sides, centre):
    at_sides = weave_peaks(weave(pattern, dwell_left=0.1, dwell_right=0.1), V)
    assert at_sides.dwell_leap == pytest.approx(sides, abs=1e-9)
    assert weave_peaks(weave(pattern, dwell_centre=0.1), V).dwell_leap == pytest.approx(centre)
    assert weave_peaks(weave(pattern), V).dwell_leap == 0
    assert at_sides.corner_leap == 0
    stands = weave(pattern, dwell_left=0.1, travel_in_dwell=TravelInDwell.STANDS)
    if sides == 0.0:  # the travel alone stops
        assert weave_peaks(stands, V).dwell_leap == pytest.approx(V)


# Intell. Robot. 2021 1(2) p. 108 measured first natural frequencies of 7 to 12 Hz; a second-order
# system at 8 Hz damped to 0.1 swings so much wider at 1, 2, 3 and 4 Hz (closed form).
@pytest.mark.parametrize(("f", "expected"), [(1, 1.016), (2, 1.065), (3, 1.159), (4, 1.322)])
def test_a_sine_swings_as_published(f, expected):
    assert swing(Weave("w", Pattern.SINE, A, f), 8.0, 0.1) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(
    "w",
    [
        Weave("w", Pattern.ZIGZAG, A, 2.0),
        Weave("w", Pattern.ZIGZAG, A, 2.2, 0.1, 0.1),
        Weave("w", Pattern.SINE, A, 1.5, 0.05, 0.15, DwellCounts.INSIDE, 0.03),
    ],
)
def test_swing_agrees_with_a_simulation_in_time(w):
    """Step by step through 12 s of the real motion, corners and dwells in it."""
    natural, damping = 8.0, 0.1
    n0 = 2 * np.pi * natural
    schedule = WeaveSchedule(w, 12.0)
    rows = schedule.phases
    dt = 2e-5
    t = np.arange(0, schedule.end * 0.999, dt)
    k = np.searchsorted(rows[:, 0], t, side="right") - 1
    phase = rows[k, 3] + (t - rows[k, 0]) * rows[k, 4]
    side = np.sin(phase)
    asked = A * (2 / np.pi * np.arcsin(side) if w.pattern is Pattern.ZIGZAG else side)
    x = v = 0.0
    seen = np.zeros(len(t))
    for i, u in enumerate(asked.tolist()):
        v += dt * (n0 * n0 * (u - x) - 2 * damping * n0 * v)
        x += dt * v
        seen[i] = x
    steady = np.abs(seen[t > 6.0]).max() / A
    assert swing(w, natural, damping) == pytest.approx(steady, rel=4e-3)


def test_corners_and_dwells_swing_more_than_their_first_harmonic():
    """A cycle of 1.53 Hz alone would add 4 %; with its corners and dwells it is more."""
    w = Weave("w", Pattern.ZIGZAG, A, 2.2, 0.1, 0.1)
    r = w.real_frequency / 8
    assert 1 / math.hypot(1 - r * r, 0.2 * r) - 1 < 0.045
    assert swing(w, 8.0, 0.1) - 1 > 0.12
    assert np.ptp(one_cycle(w)) == pytest.approx(2 * A, rel=1e-3)


def on_a_table(w, acceleration=8.0, slowest=4.0):
    """A seam round a turning table's axis that the table alone travels, the torch weaving."""
    base = seam_cell({}, [joint("home")])
    tip = base.tips(HOME[None])[0]
    table = turning_table((tip[0] - 0.05, tip[1], 0.0))
    table = dataclasses.replace(table, acceleration=slowest)
    points = {name: Point(name, frozen(np.append(HOME, np.radians(turn))), None)
              for name, turn in (("home", 0.0), ("half", 30.0), ("end", 60.0))}  # fmt: skip
    moves = [seam("end", V, w, crater=0.5, via="half")]
    c = cell(points, moves, table=table)
    arm = dataclasses.replace(c.arm, acceleration=frozen(np.full(6, acceleration)))
    return dataclasses.replace(c, arm=arm)


def test_a_table_that_only_travels_is_not_blamed_for_the_weave():
    c = on_a_table(weave(Pattern.SINE), slowest=0.5)
    trajectory = plan_program(c)
    (track,) = trajectory.tracks
    assert np.ptp(track.q[:, -1]) > 0.9  # it is the table that travels
    # stopping it for the crater in an eighth of a stroke would take more than it has
    stopping = V / 0.05 / (track.move.weave.stroke / 4)
    assert stopping > 0.5
    assert corner_share(c, track)[-1] < 0.2 and woven_share(c, track)[-1] < 0.2
    assert [
        f for f in weave_truth(Evidence(c, trajectory, ())) if f.kind == "weave acceleration"
    ] == []


def test_travel_that_stops_in_dwells_is_called_by_its_name():
    w = weave(Pattern.SINE, dwell_left=0.1, dwell_right=0.1, travel_in_dwell=TravelInDwell.STANDS)
    c = on_a_table(w, slowest=0.5)
    trajectory = plan_program(c)
    (track,) = trajectory.tracks
    assert corner_share(c, track)[-1] > 1 > woven_share(c, track)[-1]
    evidence = Evidence(c, trajectory, (), None, ReferenceEngine(c), MoveCache())
    (found,) = [f for f in weave_truth(evidence) if f.kind == "weave acceleration"]
    assert "as the travel stops and starts again at each dwell" in found.text
    assert "turn round" not in found.text and "0.0 mm" not in found.text


def test_the_weaves_share_of_a_joined_seam_leaves_its_travel_out():
    """On a straight line at even speed hardly anything is left of the travel: both agree."""
    second = dataclasses.replace(seam("end", V), joined=True)
    w = weave(Pattern.SINE, dwell_left=0.07, travel_in_dwell=TravelInDwell.STANDS)
    c = seam_cell({"half": (0.023, 0, 0), "end": (0.06, 0, 0)}, [seam("half", V), second], w)
    for track in plan_program(c).tracks:
        own, total = woven_share(c, track), corner_share(c, track)
        assert own.max() == pytest.approx(total.max(), rel=0.25)
        assert joint_acceleration(track, w.stroke / 4).max() > 0
        # the wire's end is where the travel has brought it, whatever the weave adds to the side
        since = np.linspace(0, track.travel_seconds, 200)
        gone = c.tips_on_part(track.q_at(track.t[0] + since))[:, 0]
        gone -= c.tips_on_part(track.q_at(track.t[:1]))[0, 0]
        assert travelled(c, track, since) * V == pytest.approx(gone, abs=1e-4)


def test_a_frequency_that_is_promised_can_be_followed():
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", V)], Weave("w", Pattern.SINE, 0.003, 5.0))
    c = dataclasses.replace(c, arm=dataclasses.replace(c.arm, acceleration=frozen(np.full(6, 0.4))))
    trajectory = plan_program(c)
    (track,) = trajectory.tracks
    share = corner_share(c, track).max()
    assert share > 1
    evidence = Evidence(c, trajectory, (), None, ReferenceEngine(c), MoveCache())
    fits = fitting_frequency(evidence, track, share)
    for frequency, follows in ((fits, True), (fits + 0.3, False)):
        other = dataclasses.replace(track.move.weave, frequency=frequency)
        moves = (dataclasses.replace(track.move, weave=other),)
        program = dataclasses.replace(c.program, moves=moves)
        (again,) = plan_program(dataclasses.replace(c, program=program)).tracks
        assert (corner_share(c, again).max() <= 1) == follows
