"""Habits of the trade: what brings each note, what is just inside, and cures that hold together."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

import pathsim
from pathsim.findings import Evidence, Level
from pathsim.findings.trade_practice import trade_practice
from pathsim.findings.twist import points_to_turn
from pathsim.model import Point
from pathsim.motion import plan_program
from pathsim.transforms import frozen, pose, rotation_about
from tests.builders import joint, linear, seam
from tests.motion.seam_cells import seam_cell

SAMPLES = Path(__file__).parents[2] / "sample_cells"
SOUND = ["gate_hinge", "collar_seam", "turned_collar", "hanging_rail", "offset_wrist"]
PLACES = {
    "above": (0.0, 0.05, 0.06),
    "start": (0.0, 0.05, 0.0),
    "end": (0.05, 0.05, 0.0),
    "up": (0.05, 0.05, 0.08),
    "far": (0.05, -0.2, 0.08),
}
WELD = [joint("above"), linear("start"), seam("end", crater=0.5), linear("up"), joint("home")]


def notes(moves, places=PLACES, turned=None, **changes):
    c = dataclasses.replace(seam_cell(places, moves), **changes)
    if turned:
        T = c.points[turned].T_base_tcp @ pose(rotation_about([0, 0, 1.0], 0.2), np.zeros(3))
        c = dataclasses.replace(c, points={**c.points, turned: Point(turned, None, frozen(T))})
    found = list(trade_practice(Evidence(c, plan_program(c), ())))
    assert all(f.level is Level.NOTE and f.move for f in found)
    return " | ".join(f.text for f in found)


def weld(**changes):
    return [*WELD[:2], seam("end", **changes), *WELD[3:]]


def test_a_sound_weld_has_none():
    assert notes(WELD) == ""
    assert notes(weld(crater=0.3)) == "" == notes(weld(crater=0.8))


@pytest.mark.parametrize(
    ("moves", "places", "says"),
    [
        (weld(), {}, "ends without a crater time: 0.3 to 0.8 s"),
        (weld(crater=0.9), {}, "has 0.9 s of crater time"),
        ([WELD[0], linear("start", 0.12), *WELD[2:]], {}, "comes to the weld at 120 mm/s"),
        (WELD, {"above": (0.0, 0.05, 0.015)}, "'above' is 15 mm from 'start'"),
        (WELD, {"up": (0.05, 0.05, 0.16)}, "'up' is 160 mm from 'end'"),
        ([*WELD[:4], linear("far"), WELD[4]], {}, "goes 250 mm through the air in a straight"),
    ],
)
def test_each_habit_that_is_not_kept(moves, places, says):
    assert says in notes(moves, PLACES | places)


@pytest.mark.parametrize(
    ("moves", "places"),
    [
        ([WELD[0], linear("start", 0.1), *WELD[2:]], {}),
        (WELD, {"above": (0.0, 0.05, 0.021), "up": (0.05, 0.05, 0.149)}),
        ([*WELD[:4], linear("far"), WELD[4]], {"far": (0.05, -0.14, 0.08)}),
        ([*WELD[:3], linear("start"), seam("end", crater=0.4), *WELD[3:]], {}),
    ],
)
def test_what_is_just_inside_stays_quiet(moves, places):
    assert notes(moves, PLACES | places) == ""


def test_the_torch_angle_is_kept_on_the_way_out():
    assert "turns by 11.5 deg on the way out" in notes(WELD, turned="up")
    assert notes(WELD, turned="above") == ""  # the way in is told with the approach point


def test_only_the_last_piece_of_a_joined_seam_has_a_crater():
    second = dataclasses.replace(seam("end", crater=0.5), joined=True)
    places = PLACES | {"half": (0.025, 0.05, 0.0)}
    assert notes([*WELD[:2], seam("half"), second, *WELD[3:]], places) == ""


def test_the_override_of_a_first_run():
    assert "The first run is set to 60 % override: 50 % or less" in notes(WELD, override=0.6)
    assert notes(WELD, override=0.5) == ""


def test_a_turn_about_the_wire_takes_approach_start_end_and_retract_together():
    c = pathsim.load_cell(SAMPLES / "gate_hinge")
    trajectory = plan_program(c)
    evidence = Evidence(c, trajectory, ())
    together, alone = points_to_turn(evidence, trajectory.tracks[2])
    assert set(together) == {"approach", "weld start", "weld end", "retract"}
    assert set(alone) == {"weld start", "weld end"}
    for name, q in together.items():
        assert q == pytest.approx(c.points[name].q, abs=1e-6)
    # an air leg never turns a point of the weld
    assert [set(one) for one in points_to_turn(evidence, trajectory.tracks[1])] == [{"approach"}]


@pytest.mark.parametrize("name", SOUND)
def test_the_sound_samples_keep_them(name):
    c = pathsim.load_cell(SAMPLES / name)
    assert [f.text for f in trade_practice(Evidence(c, plan_program(c), ()))] == []
