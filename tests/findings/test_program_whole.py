"""The way home, wind-up, what is unused or said twice: in closed form."""

import dataclasses

import numpy as np
import pytest

from pathsim.findings import Evidence, Level
from pathsim.findings.repeats import repeats
from pathsim.findings.unused import unused
from pathsim.findings.unusual import unusual
from pathsim.findings.way_home import way_home
from pathsim.findings.wind_up import wind_up
from pathsim.model import Margins, Point
from pathsim.model.process import Process
from pathsim.motion import plan_program
from pathsim.transforms import frozen
from tests.builders import cell, joint, linear, seam
from tests.motion.seam_cells import HOME, seam_cell


def told(c, concern):
    return list(concern(Evidence(c, plan_program(c), ())))


def turned(column, *degrees):
    """Joint moves that turn one joint to each of the angles, then home."""
    points = {"home": HOME}
    for k, value in enumerate(degrees):
        points[f"p{k}"] = HOME + np.radians(value) * np.eye(6)[column]
    return cell(points, [joint(f"p{k}") for k in range(len(degrees))] + [joint("home")])


@pytest.mark.parametrize("column", [3, 5])
@pytest.mark.parametrize(("angles", "is_told"), [((149, -149), False), ((151, -151), True)])
def test_wind_up_is_from_least_to_most(column, angles, is_told):
    found = told(turned(column, *angles), wind_up)
    assert len(found) == is_told
    for finding in found:
        assert finding.level is Level.WATCH
        assert finding.numbers["turns"] == pytest.approx(np.radians(302))
        assert finding.numbers["net"] == 0.0


def test_joints_that_wind_no_hose_may_turn():
    for column in (0, 1, 2, 4):
        assert told(turned(column, 170, -170), wind_up) == []


def test_what_a_run_leaves_wound_up():
    c = turned(5, 190)
    c = dataclasses.replace(c, program=dataclasses.replace(c.program, moves=c.program.moves[:1]))
    (finding,) = told(c, wind_up)
    assert "ends 190 deg from where it started" in finding.text
    assert finding.numbers["net"] == pytest.approx(np.radians(190))


def test_the_way_home():
    points = {"home": HOME, "twin": HOME + np.radians(2.9), "far": HOME + np.radians(3.1)}
    levels = {}
    for name in points:
        moves = [joint("far"), joint(name)] if name != "far" else [joint("far")]
        levels[name] = [f.level for f in told(cell(points, moves), way_home)]
    assert levels == {"home": [], "twin": [Level.NOTE], "far": [Level.WATCH]}


def test_home_in_another_posture_is_told():
    """A pose has several postures: the one taken at the end need not be that of the start."""
    c = cell({"home": HOME, "far": HOME + 0.2}, [joint("far"), joint("home")])
    trajectory = plan_program(c)
    last = trajectory.tracks[-1]
    q = last.q.copy()
    q[-1, 5] += np.radians(0.6)
    other = dataclasses.replace(trajectory, tracks=(trajectory.tracks[0],
                                                    dataclasses.replace(last, q=q)))  # fmt: skip
    (finding,) = way_home(Evidence(c, other, ()))
    assert finding.level is Level.WATCH and "in another posture" in finding.text
    q[-1, 5] -= np.radians(0.2)
    other = dataclasses.replace(other, tracks=(other.tracks[0], dataclasses.replace(last, q=q)))
    assert not list(way_home(Evidence(c, other, ())))


def above_weld(offset):
    """A seam that is left by a joint move, and a point that nothing uses."""
    c = seam_cell({"end": (0.03, 0, 0)}, [seam("end"), joint("home")])
    T = np.array(c.arm.pose(HOME) @ c.torch.T_flange_tcp)
    T[:3, 3] += [0.03, 0, 0]
    T[:3, 3] += T[:3, :3] @ np.asarray(offset)
    spare = Point("spare", None, frozen(T))
    return dataclasses.replace(c, points={**c.points, "spare": spare})


@pytest.mark.parametrize(
    ("offset", "level"),
    [((0, 0, -0.08), Level.WATCH), ((0, 0, -0.01), Level.NOTE), ((0, 0, -0.4), Level.NOTE),
     ((0, 0, 0.08), Level.NOTE), ((0.06, 0, -0.07), Level.WATCH), ((0.08, 0, -0.07), Level.NOTE)],
)  # fmt: skip
def test_a_retract_point_is_known_by_its_place(offset, level):
    (finding,) = told(above_weld(offset), unused)
    assert finding.level is level and "'spare'" in finding.text


def test_what_nothing_uses_is_one_note():
    points = {name: HOME + 0.01 * k for k, name in enumerate(["home", *"abcdefg"])}
    c = dataclasses.replace(cell(points, [joint("a"), joint("home")]), weaves=("wide", "narrow"))
    points, weaves = told(c, unused)
    assert points.text == "You taught 'b', 'c', 'd', 'e', 'f' and 'g' and never use them." or (
        "'f' and 1 more" in points.text
    )
    assert weaves.text == "Weaves 'wide' and 'narrow': no seam uses them."


def test_moves_that_go_nowhere():
    c = cell({"home": HOME, "a": HOME + 0.1}, [joint("a"), linear("a"), joint("home")])
    (finding,) = told(c, repeats)
    assert finding.move == 2 and "starts where it ends, and does nothing" in finding.text
    tiny = seam_cell({"end": (1e-9, 0, 0)}, [seam("end", 0.01)])
    assert [f.level for f in told(tiny, repeats)] == [Level.WATCH]
    spot = seam_cell({"end": (1e-9, 0, 0)}, [seam("end", 0.01, crater=1.0)])
    assert told(spot, repeats) == []


def test_one_place_under_two_names():
    c = cell({"home": HOME, "a": HOME + 0.1, "b": HOME + 0.1, "c": HOME + 0.102}, [joint("home")])
    texts = [f.text for f in told(c, repeats) if "two names" in f.text]
    assert texts == ["'a' and 'b' are one place under two names: teach it once."]


@pytest.mark.parametrize(
    ("speed", "is_told"), [(0.0011, False), (0.0009, True), (0.049, False), (0.052, True)]
)
def test_travel_speeds_of_arc_welding(speed, is_told):
    c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", speed)])
    assert len(told(c, unusual)) == is_told


def test_heat_and_leg_in_closed_form():
    """U I / v and sqrt(2 pi/4 d^2 feed / v), at both sides of their limits."""
    c = seam_cell({"end": (0.03, 0, 0)}, [seam("end", 0.005)])
    for current, is_told in ((1190.0, False), (1210.0, True)):  # 25 V x 1200 A / 5 mm/s = 6 kJ/mm
        process = Process(voltage=25.0, current=current)
        assert len(told(dataclasses.replace(c, process=process), unusual)) == is_told
    area = 0.02**2 / 2
    feed = area * 0.005 / (np.pi / 4 * c.torch.wire_diameter**2)
    for share, is_told in ((0.98, False), (1.02, True)):
        process = Process(wire_feed=share * feed)
        assert len(told(dataclasses.replace(c, process=process), unusual)) == is_told


def test_air_margins():
    c = cell({"home": HOME}, [joint("home")])
    for air, levels in ((0.00099, [Level.WATCH]), (0.001, []), (0.16, [Level.NOTE])):
        c = dataclasses.replace(c, margins=Margins(air, 0.001, 0.001))
        assert [f.level for f in told(c, unusual)] == levels
