"""Welding positions by hand, along seams, arcs and turning parts; and what the arm has left."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.check import check
from pathsim.findings.arm_reserve import reserve, stretch_of
from pathsim.findings.kinds import FindingKind
from pathsim.findings.torch_angles import seam_angles
from pathsim.findings.weld_position import Position, main_position, rotations, slopes, weld_position
from pathsim.model import Point, Role
from pathsim.motion import plan_program
from pathsim.report.sheet_seams import seam_numbers
from pathsim.transforms import frozen, pose, rotation_about
from tests.builders import SHOP_ROWS, body, box, cell, joint, seam, shop_arm, turning_table
from tests.motion.seam_cells import HOME, seam_cell

SAMPLES = Path(__file__).parents[2] / "sample_cells"
UP, DOWN, X, Y = np.array([0.0, 0, 1]), np.array([0.0, 0, -1]), np.eye(3)[0], np.eye(3)[1]
HALF = np.sqrt(0.5)


# ISO 6947, main positions: travel, the line out of the weld's face, slope and rotation.
@pytest.mark.parametrize(
    ("travel", "face", "slope", "rotation", "position"),
    [
        (X, UP, 0, 90, "PA"),
        (X, HALF * (UP + Y), 0, 45, "PB"),
        (X, HALF * (UP - Y), 0, 45, "PB"),
        (X, Y, 0, 0, "PC"),
        (Y, X, 0, 0, "PC"),
        (X, HALF * (DOWN + Y), 0, -45, "PD"),
        (X, DOWN, 0, -90, "PE"),
        (UP, Y, 90, 0, "PF"),
        (DOWN, Y, -90, 0, "PG"),
        (HALF * (X + UP), Y, 45, 0, "PF"),
        (HALF * (X - UP), Y, -45, 0, "PG"),
        # a flat weld that climbs by 20 deg is still a flat one
        (np.array([np.cos(np.radians(20)), 0, np.sin(np.radians(20))]),
         np.array([-np.sin(np.radians(20)), 0, np.cos(np.radians(20))]), 20, 90, "PA"),
    ],
)  # fmt: skip
def test_main_positions(travel, face, slope, rotation, position):
    found = weld_position(travel[None], face[None])
    assert np.degrees(found.slope.middle) == pytest.approx(slope)
    assert np.degrees(found.rotation.middle) == pytest.approx(rotation)
    assert found.positions == (position,)
    assert Position(position).in_words


@pytest.mark.parametrize(
    ("rotation", "position"),
    [(68, "PA"), (67, "PB"), (23, "PB"), (22, "PC"), (-22, "PC"), (-23, "PD"), (-68, "PE")],
)
def test_between_two_the_nearest(rotation, position):
    assert main_position(0.0, np.radians(rotation)) == position


def test_a_weld_round_a_lying_pipe_passes_positions_in_their_order():
    turn = np.radians(np.arange(0, 181, 5))
    travel = np.column_stack([np.cos(turn), 0 * turn, -np.sin(turn)])
    face = np.column_stack([np.sin(turn), 0 * turn, np.cos(turn)])
    found = weld_position(travel, face)
    assert found.positions == ("PA", "PG", "PE")
    assert np.degrees(slopes(travel).min()) == pytest.approx(-90)
    assert np.degrees(rotations(travel, face)[[0, -1]]) == pytest.approx([90, -90])


def on_a_floor(R=None):
    """A bead along x on a level floor, all of it turned in the room by ``R``."""
    c = seam_cell({"end": (0.06, 0, 0)}, [seam("end", 0.005)])
    tip = c.tips(HOME[None])[0]
    floor = body(box((0.5, 0.5, 0.01), (tip[0], tip[1], tip[2] - 0.005)), "floor", Role.PART)
    if R is None:
        return dataclasses.replace(c, bodies=(floor,))
    T = pose(R, np.zeros(3))
    floor = dataclasses.replace(floor, T_world_body=frozen(T @ floor.T_world_body))
    return dataclasses.replace(c, T_world_base=frozen(T), bodies=(floor,))


@pytest.mark.parametrize(
    ("axis", "degrees", "position", "slope", "rotation"),
    [
        ((0, 1, 0), 0, "PA", 0, 90),
        ((0, 1, 0), -90, "PF", 90, 0),
        ((0, 1, 0), 90, "PG", -90, 0),
        ((1, 0, 0), 90, "PC", 0, 0),
        ((1, 0, 0), 180, "PE", 0, -90),
        ((1, 0, 0), 40, "PB", 0, 50),
        ((0, 0, 1), 77, "PA", 0, 90),
    ],
)
def test_positions_are_those_in_the_room(axis, degrees, position, slope, rotation):
    c = on_a_floor(rotation_about(np.array(axis, float), np.radians(degrees)))
    found = seam_angles(c, plan_program(c).tracks[0]).position
    assert found.positions == (position,) and not found.by_torch
    assert np.degrees(found.slope.middle) == pytest.approx(slope, abs=0.2)
    assert np.degrees(found.rotation.middle) == pytest.approx(rotation, abs=0.2)


def test_without_a_part_the_torch_tells():
    c = dataclasses.replace(on_a_floor(), bodies=())
    found = seam_angles(c, plan_program(c).tracks[0]).position
    assert found.by_torch
    (said,) = [f.text for f in check(c).seams if f.kind is FindingKind.WELD_POSITION]
    assert "by the torch's axis" in said and "(ISO 6947" in said


@pytest.mark.parametrize("name", ["gate_hinge", "collar_seam", "turned_collar"])
def test_the_samples_level_fillets_are_pb_round_arcs_and_on_a_turning_table(name):
    c = pathsim.load_cell(SAMPLES / name)
    tracks = [t for t in plan_program(c).tracks if t.move.arc_on]
    for track in tracks:
        found = seam_angles(c, track).position
        assert found.positions == ("PB",)
        for angle, expected in ((found.slope, 0.0), (found.rotation, 45.0)):
            assert np.degrees([angle.least, angle.most]) == pytest.approx(expected, abs=0.6)


def test_a_pipe_that_turns_under_a_standing_torch_stays_in_one_position():
    """The table's axis is level; on the part the seam goes round, in the room it stands."""
    tip = seam_cell({}, [joint("home")]).tips(HOME[None])[0]
    table = turning_table((tip[0], 0.0, tip[2] - 0.05), (0.0, 1.0, 0.0))
    points = {
        name: Point(name, frozen(np.append(HOME, np.radians(degrees))), None)
        for name, degrees in (("home", 0.0), ("half", -50.0), ("end", -100.0))
    }
    c = cell(points, [seam("end", 0.005, via="half")], table=table)
    (track,) = plan_program(c).tracks
    assert np.ptp(track.q[:, -1]) == pytest.approx(np.radians(100.0))
    found = seam_angles(c, track).position
    assert len(found.positions) == 1
    for angle in (found.slope, found.rotation):
        assert angle.most - angle.least < np.radians(0.5)
    # the part comes up to the torch at one side: the seam is laid on a level tangent there
    assert np.degrees(found.slope.middle) == pytest.approx(0.0, abs=0.3)


def test_what_is_left_of_the_arm_by_hand():
    limits = np.radians(
        [[-170, 170], [-90, 120], [-80, 150], [-190, 190], [-120, 120], [-300, 300]]
    )
    q = np.radians([[0, 10, 20, -30, 40, 100], [5, 10, 25, 20, -15, -80], [9, 11, 22, 0, 60, 0.0]])
    c = cell({"home": q[0], "end": q[1]}, [joint("end")], arm=shop_arm(limits))
    found = reserve(c, q)
    assert np.degrees(found.wrist) == pytest.approx(15.0)
    assert {k: np.degrees(v) for k, v in found.winds.items()} == pytest.approx({3: 50.0, 5: 180.0})
    assert np.degrees(found.left) == pytest.approx([161, 100, 100, 160, 60, 200])
    assert found.tightest == 4


def test_the_stretch_between_axis_2_and_the_wrist_by_the_law_of_cosines():
    """Upper arm 0.59; elbow offset 0.13 and forearm 0.64 at a right angle to each other."""
    upper, fore = SHOP_ROWS[1][0], np.hypot(SHOP_ROWS[2][0], SHOP_ROWS[3][2])
    c = cell({"home": HOME, "end": HOME}, [joint("end")])
    straight = []
    for third in np.radians(np.arange(-180, 180, 0.25)):
        q = HOME.copy()
        q[2] = third
        straight.append(stretch_of(c, q[None]))
    best = np.radians(-180 + 0.25 * int(np.argmax(straight)))
    assert max(straight) == pytest.approx(1.0, abs=1e-5)
    for bend in (0.5, 1.2, 2.0):
        q = HOME.copy()
        q[2] = best + bend
        expected = np.sqrt(upper**2 + fore**2 + 2 * upper * fore * np.cos(bend)) / (upper + fore)
        assert stretch_of(c, q[None]) == pytest.approx(expected, abs=2e-3)
    assert stretch_of(c, np.array([HOME, q])) == pytest.approx(
        max(stretch_of(c, HOME[None]), stretch_of(c, q[None]))
    )


def test_an_arm_without_a_spherical_wrist_has_no_such_angle():
    result = check(pathsim.load_cell(SAMPLES / "offset_wrist"))
    notes = [f for f in result.seams if f.kind is FindingKind.ARM_RESERVE]
    assert notes[0].move is None and "wrist" not in notes[0].numbers
    assert all("reach used" not in f.numbers and "axis 6 turns" in f.numbers for f in notes)


def test_the_whole_program_and_each_seam_and_all_of_it_once_on_the_sheet():
    result = check(pathsim.load_cell(SAMPLES / "gate_hinge"))
    whole, one = [f for f in result.seams if f.kind is FindingKind.ARM_RESERVE]
    q = result.trajectory.q
    assert whole.move is None and one.move == 3
    assert whole.numbers["axis 4 turns"] == pytest.approx(np.ptp(q[:, 3]))
    assert whole.numbers["axis 6 turns"] >= one.numbers["axis 6 turns"]
    room = np.minimum(q - result.cell.axes.lower, result.cell.axes.upper - q).min(axis=0)
    assert [whole.numbers[f"axis {k + 1} left"] for k in range(6)] == pytest.approx(list(room))
    assert "Hoses stand about 300 deg" in whole.text
    lines = seam_numbers(result)
    assert len(lines) == len(result.seams) + 1 and "last word" in lines[-1]
    assert any(line.startswith("Move 3: position PB") for line in lines)
    twice = dataclasses.replace(result, seams=(*result.seams, *result.seams))
    assert len(seam_numbers(twice)) == len(lines)
    assert any(line.startswith("Moves 3, 3: position PB") for line in seam_numbers(twice))
