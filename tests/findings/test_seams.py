"""What a weave really is, what the arm cannot follow, the process, and sound habits."""

import dataclasses
import math

import numpy as np
import pytest

from pathsim.check import check
from pathsim.clearance.profile import clearance_profile
from pathsim.errors import MotionError
from pathsim.findings import Evidence, Level
from pathsim.findings.acceleration import joint_acceleration
from pathsim.findings.kinds import FindingKind
from pathsim.findings.program_checks import program_checks
from pathsim.findings.room import narrowest_room
from pathsim.findings.trade_practice import trade_practice
from pathsim.findings.way_home import way_home
from pathsim.model import DwellCounts, Pattern, Role, TorchPiece, Weave
from pathsim.model.process import Process, fillet_leg
from pathsim.model.weave import TravelInDwell
from pathsim.motion import plan_program
from pathsim.transforms import frozen
from tests.builders import body, box, joint, linear, seam
from tests.motion.seam_cells import HOME, seam_cell

INCH = 0.0254


def test_heat_input_by_both_formulas():
    # ASME IX QW-409.1(a), 60 V I / S: 18 V, 150 A, 15 in/min -> 10.8 kJ/in = 0.425197 kJ/mm
    heat = Process(voltage=18, current=150).heat_per_length(15 * INCH / 60)
    assert heat * INCH / 1e3 == pytest.approx(10.8)
    assert heat / 1e6 == pytest.approx(0.425197, abs=1e-6)
    # EN 1011-1, k 0.8: 25 V, 200 A, 300 mm/min -> 0.8 kJ/mm
    reduced = Process(voltage=25, current=200).heat_with_efficiency(0.3 / 60)
    assert reduced / 1e6 == pytest.approx(0.8)
    assert Process(voltage=25).heat_per_length(0.005) is None


def test_deposit_and_fillet():
    # 0.035 in, 300 in/min, 15 in/min: 0.01924226 in^2, leg 0.196175 in (exact arithmetic)
    area = Process(wire_feed=300 * INCH / 60).deposit_area(0.035 * INCH, 15 * INCH / 60)
    assert area / INCH**2 == pytest.approx(0.01924226, abs=1e-8)
    assert fillet_leg(area) / INCH == pytest.approx(0.196175, abs=1e-6)
    # 0.9 mm, 7.62 m/min, 381 mm/min: 12.723450 mm^2, 5.044492 mm
    area = Process(wire_feed=7.62 / 60).deposit_area(0.0009, 0.381 / 60)
    assert area * 1e6 == pytest.approx(12.723450, abs=1e-6)
    assert fillet_leg(area) * 1e3 == pytest.approx(5.044492, abs=1e-6)
    # Handbook: a 1/2 in fillet is 0.424 lb/ft (exact 0.42495): area of the leg squared over two
    assert fillet_leg(0.125 * INCH**2) == pytest.approx(0.5 * INCH)
    assert Process(wire_feed=0.1).wire_used(24.6) == pytest.approx(2.46)


def woven(weave, speed=0.005, arm=None, bodies=(), **more):
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", speed)], weave)
    return dataclasses.replace(c, bodies=tuple(bodies), arm=arm or c.arm, **more)


def of_kind(c, kind):
    result = check(c)
    return [f for f in (*result.findings, *result.seams) if f.kind == kind]


def test_a_weave_is_said_with_its_real_numbers():
    """2 Hz, 0.1 s each side added: 1.43 cycles a second and 4.445 mm at 6.35 mm/s."""
    weave = Weave("w", Pattern.ZIGZAG, 0.0025, 2.0, 0.1, 0.1)
    (said,) = of_kind(woven(weave, 0.00635), "weave")
    assert said.numbers["real cycles"] == pytest.approx(1.428571, abs=1e-6)
    assert said.numbers["pitch"] == pytest.approx(0.004445)
    assert "Dwell is added to the 2 Hz cycle" in said.text and "actual 1.43 Hz" in said.text


def replace_frequency(weave, frequency):
    return dataclasses.replace(weave, frequency=frequency)


def test_strokes_farther_apart_than_wide():
    (said,) = of_kind(woven(Weave("w", Pattern.SINE, 0.002, 1.0), 0.01), "weave strokes")
    assert said.level is Level.NOTE and "2.5 cycles a second" in said.text
    assert "more than the weave is wide (4.0 mm)" in said.text
    # a narrow weave is a bead of its own: three diameters of its 1 mm wire
    narrow = Weave("w", Pattern.SINE, 0.0005, 4.0)
    assert not of_kind(woven(narrow, 0.01), "weave strokes")
    (said,) = of_kind(woven(replace_frequency(narrow, 2.0), 0.01), "weave strokes")
    assert "more than 3 wire diameters (3.0 mm): about 3.3 cycles a second" in said.text
    assert not of_kind(woven(Weave("w", Pattern.SINE, 0.003, 2.0), 0.01), "weave strokes")


def test_acceleration_of_a_sine_in_closed_form():
    """Torch over joint 1's reach: the joints' acceleration is the tip's through the Jacobian."""
    weave = Weave("w", Pattern.SINE, 0.003, 2.0)
    c = woven(weave)
    (track,) = plan_program(c).tracks
    window = weave.stroke / 4
    seen = joint_acceleration(track, window)
    # amplitude of each joint's own motion times (pi / stroke)^2, less a little for the window
    q = track.q_at(np.linspace(*track.t[[0, -1]], 20001))
    per = int(20000 / track.duration * weave.period)
    ripple = np.array([np.ptp(q[k : k + per, 0]) for k in range(0, 15000, 1000)]).max() / 2
    expected = ripple * (np.pi / weave.stroke) ** 2
    assert seen[0] == pytest.approx(expected, rel=0.12)


def test_an_impossible_weave_is_caught_with_what_would_work():
    base = woven(Weave("w", Pattern.ZIGZAG, 0.003, 2.0))
    slow = dataclasses.replace(base.arm, acceleration=frozen(np.full(6, 0.4)))
    weave = Weave("w", Pattern.ZIGZAG, 0.003, 5.0)
    (found,) = of_kind(woven(weave, arm=slow), "weave acceleration")
    assert found.level is Level.WATCH and "round" in found.text
    share = found.numbers["share"]
    assert share > 1
    followed = dataclasses.replace(weave, frequency=5.0 / math.sqrt(share) * 0.97)
    assert not of_kind(woven(followed, arm=slow), "weave acceleration")
    smaller = dataclasses.replace(weave, amplitude=0.003 / share * 0.97)
    assert not of_kind(woven(smaller, arm=slow), "weave acceleration")


def test_an_arm_that_bends():
    weave = Weave("w", Pattern.SINE, 0.002, 3.0)
    (found,) = of_kind(woven(weave, natural_frequency=8.0), "arm bends")
    assert found.level is Level.WATCH and found.numbers["overshoot"] == pytest.approx(
        1.159, abs=1e-3
    )
    (found,) = of_kind(woven(weave, natural_frequency=12.0), "arm bends")
    assert found.level is Level.NOTE
    (found,) = of_kind(woven(weave, natural_frequency=2.5), "arm bends")
    assert "cannot follow" in found.text
    assert not of_kind(woven(weave), "arm bends")


def channel(room):
    """Two walls that leave ``room`` on each side of a nozzle of 20 mm along a straight seam."""
    base = seam_cell({"end": (0.06, 0, 0)}, [seam("end", 0.005)])
    T = base.tool_poses(HOME[None])[0]
    left = np.cross(-T[:3, 2], [1.0, 0, 0])
    left /= np.linalg.norm(left)
    along = np.array([1.0, 0, 0])
    R = np.column_stack([along, left, np.cross(along, left)])
    nozzle = box((0.02, 0.02, 0.02), (0, 0, -0.02)).moved(
        np.block([[base.torch.T_flange_tcp[:3]], [np.array([[0, 0, 0, 1.0]])]])
    )
    walls = []
    for side, name in ((1, "left wall"), (-1, "right wall")):
        centre = T[:3, 3] + [0.03, 0, 0] + side * (0.01 + room[name] + 0.005) * left
        wall = box((0.2, 0.01, 0.1)).moved(np.block([[R, centre[:, None]], [0, 0, 0, 1]]))
        walls.append(body(wall, name, Role.FIXTURE))
    return walls, (TorchPiece("nozzle", nozzle),)


def test_room_between_walls_in_closed_form():
    """The torch's z is along the wire, so a square nozzle of 20 mm meets the walls flat."""
    walls, pieces = channel({"left wall": 0.006, "right wall": 0.0045})
    weave = Weave("w", Pattern.SINE, 0.004, 2.0)
    c = woven(weave, bodies=walls)
    T = c.tool_poses(HOME[None])[0]
    assert abs(T[1, 1]) == pytest.approx(1)  # the nozzle's side faces the wall
    c = dataclasses.replace(c, torch=dataclasses.replace(c.torch, pieces=pieces))
    (track,) = plan_program(c).tracks
    left, right, _ = narrowest_room(Evidence(c, plan_program(c), ()), track)
    margin = c.margins.seam
    assert left == pytest.approx(0.006 - margin, abs=2e-4)
    assert right == pytest.approx(0.0045 - margin, abs=2e-4)
    (found,) = of_kind(c, "weave room")
    assert found.level is Level.WATCH and "of room to the right" in found.text
    fits = dataclasses.replace(weave, amplitude=right * 0.95)
    moves = (dataclasses.replace(c.program.moves[0], weave=fits),)
    program = dataclasses.replace(c.program, moves=moves)
    assert not of_kind(dataclasses.replace(c, program=program), "weave room")


def habits(moves, offsets, turned=None):
    c = seam_cell(offsets, moves)
    if turned:
        c = dataclasses.replace(c, points={**c.points, **turned(c)})
    evidence = Evidence(c, plan_program(c), ())
    return " | ".join(
        f.text for f in (*program_checks(evidence), *trade_practice(evidence), *way_home(evidence))
    )


SOUND = [
    joint("above"),
    linear("start"),
    seam("end", crater=0.5),
    linear("up"),
    joint("home"),
]
PLACES = {
    "above": (0.0, 0.05, 0.06),
    "start": (0.0, 0.05, 0.0),
    "end": (0.05, 0.05, 0.0),
    "up": (0.05, 0.05, 0.08),
}


def test_a_sound_program_has_no_notes():
    assert habits(SOUND, PLACES) == ""


@pytest.mark.parametrize(
    ("moves", "says"),
    [
        ([joint("start"), *SOUND[2:]], "does not travel straight"),
        ([*SOUND[:3], joint("home")], "leaves 'end', the weld end, with a joint move"),
        (SOUND[:3], "ends at the weld end"),
        ([seam("end"), *SOUND[3:]], "teach an approach point before"),
        (SOUND[:4], "ends elsewhere, at 'up'"),
        ([*SOUND[:4], joint("twin")], "not to a twin of it"),
    ],
)
def test_habits_that_are_missing(moves, says):
    places = {**PLACES, "twin": (0.001, 0.0, 0.0)}
    assert says in habits(moves, places)


def test_torch_that_turns_on_the_way_down():
    from pathsim.model import Point
    from pathsim.transforms import pose, rotation_about

    def turned(c):
        T = c.points["above"].T_base_tcp @ pose(rotation_about([0, 0, 1.0], 0.2), np.zeros(3))
        return {"above": Point("above", None, frozen(T))}

    assert "The torch turns by 11.5 deg" in habits(SOUND, PLACES, turned)


def test_sideways_in_and_out():
    places = {**PLACES, "above": (-0.05, 0.05, 0.0), "up": (0.12, 0.05, 0.0)}
    said = habits(SOUND, places)
    assert (
        "aside of the wire: teach the approach back along the wire" in said
        and "leaves the weld sideways" in said
    )


def test_travel_that_stands_still_counts_for_bead_and_heat():
    """30 mm at 5 mm/s with as much dwell again: twice the wire on every millimetre."""
    weave = Weave("w", Pattern.SINE, 0.002, 1.0, 0.5, 0.5, travel_in_dwell=TravelInDwell.STANDS)
    process = Process(wire_feed=0.12, voltage=22, current=190)
    c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.005)], weave)
    (said,) = of_kind(dataclasses.replace(c, process=process), "process")
    assert said.numbers["arc seconds"] == pytest.approx(12.0)
    wire = said.numbers["wire"] * math.pi / 4 * c.torch.wire_diameter**2
    assert said.numbers["area"] * 0.03 == pytest.approx(wire)  # what melts lies in the seam
    assert said.numbers["heat"] == pytest.approx(22 * 190 / 0.0025)
    assert "on the mean, its dwells counted" in said.text


def test_room_does_not_depend_on_how_the_seam_is_cut_or_where_the_weave_is():
    walls, pieces = channel({"left wall": 0.012, "right wall": 0.012})
    weave = Weave("w", Pattern.SINE, 0.009, 1.3)
    whole = woven(weave, bodies=walls)
    cut = seam_cell({"half": (0.031, 0, 0), "end": (0.06, 0, 0)},
                    [seam("half", 0.005), dataclasses.replace(seam("end", 0.005), joined=True)],
                    weave)  # fmt: skip
    cut = dataclasses.replace(cut, bodies=tuple(walls))
    for bare in (whole, cut):
        c = dataclasses.replace(bare, torch=dataclasses.replace(bare.torch, pieces=pieces))
        trajectory = plan_program(c)
        for track in trajectory.tracks:
            left, right, _ = narrowest_room(Evidence(c, trajectory, ()), track)
            expected = 0.012 - c.margins.seam
            assert (left, right) == pytest.approx((expected, expected), abs=2e-4)


def test_room_of_a_tilted_weave_is_along_its_own_plane():
    walls, pieces = channel({"left wall": 0.012, "right wall": 0.012})
    tilt = np.radians(40)
    c = woven(Weave("w", Pattern.SINE, 0.012, 1.3, tilt=tilt), bodies=walls)
    c = dataclasses.replace(c, torch=dataclasses.replace(c.torch, pieces=pieces))
    trajectory = plan_program(c)
    left, right, _ = narrowest_room(Evidence(c, trajectory, ()), trajectory.tracks[0])
    expected = (0.012 - c.margins.seam) / np.cos(tilt)
    assert (left, right) == pytest.approx((expected, expected), abs=3e-4)


@pytest.mark.parametrize("counts", list(DwellCounts))
@pytest.mark.parametrize("travel", list(TravelInDwell))
def test_the_frequency_that_lays_strokes_side_by_side_does(counts, travel):
    weave = Weave("w", Pattern.ZIGZAG, 0.003, 1.0, 0.1, 0.1, counts, 0.0, travel)
    wanted = weave.frequency_for(0.006 / 0.010)
    assert dataclasses.replace(weave, frequency=wanted).pitch(0.010) == pytest.approx(0.006)
    never = Weave("w", Pattern.ZIGZAG, 0.003, 1.0, 0.9)
    assert never.frequency_for(0.6) is None


def test_seconds_at_the_override_where_a_joint_is_the_limit():
    c = seam_cell({"end": (0.06, 0, 0)}, [linear("end", 0.4)])
    slow_arm = dataclasses.replace(c.arm, speed=frozen(np.full(6, 0.25)))
    c = dataclasses.replace(c, arm=slow_arm)
    (track,) = plan_program(c).tracks
    assert track.speed_ratio.max() > 1.5
    moves = (linear("end", 0.2),)
    half = plan_program(dataclasses.replace(c, program=dataclasses.replace(c.program, moves=moves)))
    assert track.slow_duration == pytest.approx(half.duration, rel=0.05)


def test_a_seam_that_turns_back_says_where():
    back = dataclasses.replace(seam("start", 0.005), joined=True)
    moves = (joint("start"), seam("end", 0.005), back)
    c = seam_cell(PLACES, moves)
    with pytest.raises(MotionError, match=r"move 2, to 'end'.*turns back on the one before"):
        plan_program(c)


def test_a_cell_with_nothing_to_measure_has_an_empty_chart():
    c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.01)])
    profile = clearance_profile(c, plan_program(c))
    assert len(profile.t) > 2 and (profile.guaranteed[:-1] == profile.cap).all()


def test_a_spot_is_described_without_a_bead():
    c = seam_cell({"end": (0, 0, 0)}, [seam("end", 0.005, crater=1.5)])
    c = dataclasses.replace(c, process=Process(wire_feed=0.1, voltage=20.0, current=150.0))
    (told,) = [f for f in check(c).seams if f.kind == FindingKind.PROCESS]
    assert "a spot without travel, 1.5 s of arc; 0.15 m of wire" in told.text
    assert dict(told.numbers) == pytest.approx({"arc seconds": 1.5, "wire": 0.15})
