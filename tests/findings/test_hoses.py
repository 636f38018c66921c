"""Wind-up against what the cell says that hoses stand: by program, by move, from unwound."""

import dataclasses

import numpy as np
import pytest

import pathsim
from pathsim.arm import ReadingsMap
from pathsim.errors import CellError, CellFaults
from pathsim.files import load_cell, save_cell
from pathsim.files.cell_differences import differences
from pathsim.files.faults import FaultList
from pathsim.files.hoses import HoseEntry, hoses_document, read_hoses
from pathsim.files.yaml_source import YamlSource
from pathsim.findings import Evidence, FindingKind, Level
from pathsim.findings.reserve_notes import reserve_notes
from pathsim.findings.wind_up import wind_up
from pathsim.model import Hose
from pathsim.motion import plan_program
from pathsim.report.sheet_setup import hose_lines
from tests.builders import cell, joint, rail_arm
from tests.files.test_cell_folder import shop, spoil  # noqa: F401 - a fixture
from tests.findings.test_program_whole import told, turned
from tests.mistakes.case import SAMPLES


def with_hoses(c, *hoses):
    return dataclasses.replace(c, hoses=hoses)


@pytest.mark.parametrize("column", [0, 3, 5])
def test_more_than_the_cell_allows_is_told_and_no_less(column):
    """From -49 to +51 deg: 100 deg in all, on any joint of which the cell says something."""
    c = turned(column, 51, -49)
    for turns, is_told in ((99.9, True), (100.1, False)):
        found = told(with_hoses(c, Hose(column, np.radians(turns))), wind_up)
        assert len(found) == is_told
    (finding,) = told(with_hoses(c, Hose(column, np.radians(70.0))), wind_up)
    assert finding.level is Level.WATCH and finding.kind is FindingKind.WIND_UP
    assert f"Joint {column + 1} turns 100 deg from least to most" in finding.text
    assert "hoses stand 70 deg (as the cell says)" in finding.text
    # p0 > p1 turns it by all 100 deg; home > p0 by 51, p1 > home by 49
    assert "The most of it is on move 2, p0 > p1: 100 deg alone." in finding.text
    assert finding.move == 1  # where it stands at its most


def test_what_the_cell_says_goes_before_common_practice():
    c = turned(5, 160, -160)
    assert len(told(c, wind_up)) == 1
    assert told(with_hoses(c, Hose(5, np.radians(330))), wind_up) == []
    assert len(told(with_hoses(c, Hose(3, np.radians(330))), wind_up)) == 1  # joint 6 as usual


@pytest.mark.parametrize("sign", [1, -1])
def test_hoses_are_held_to_half_their_turns_either_way_from_unwound(sign):
    """Of 200 deg: 100 deg either way from +30 deg. Joint 6 goes to -75: 105 deg off it."""
    c = turned(5, sign * -75.0, sign * 10.0)
    unwound = sign * np.radians(30.0)
    hose = Hose(5, np.radians(200.0), unwound)
    (finding,) = told(with_hoses(c, hose), wind_up)
    assert finding.numbers["wound"] == pytest.approx(np.radians(105.0))
    assert "goes 105 deg from where its hoses are unwound" in finding.text
    assert "100 deg each way" in finding.text and finding.move == 1
    assert told(with_hoses(c, Hose(5, np.radians(211.0), unwound)), wind_up) == []
    assert told(with_hoses(c, Hose(5, np.radians(200.0))), wind_up) == []


def test_the_note_and_the_sheet_tell_it_of_program_and_worst_move():
    c = with_hoses(turned(3, 40, -20, 50), Hose(3, np.radians(320)), Hose(5, 6.0, 0.1))
    whole = next(iter(reserve_notes(Evidence(c, plan_program(c), ()))))
    assert "joint 4 turns 70 deg in all" in whole.text
    assert "Hoses stand 320 deg on joint 4, 344 deg on joint 6 from least to most" in whole.text
    assert "The most on one move: joint 4 by 70 deg (move 3), joint 6 by 0 deg" in whole.text
    result = pathsim.check(c)
    away = float(np.abs(plan_program(c).q[:, 5] - 0.1).max())
    assert hose_lines(result) == (
        "Hoses: joint 4 turns 70 deg of 320 deg; joint 6 turns 0 deg of 344 deg, "
        f"{np.degrees(away):.0f} deg of 172 deg off unwound",
    )
    assert hose_lines(pathsim.check(dataclasses.replace(c, hoses=()))) == ()


def with_key(folder, text):
    spoil(folder, "gate_hinge/cell.yaml", "margins: {", f"hoses: {text}\nmargins: {{")
    return folder / "gate_hinge"


def test_it_is_read_as_the_display_counts_and_comes_back(shop, tmp_path):  # noqa: F811
    """A display that counts joint 6 the other way, 20 deg off: 50 shown is -30 of the model."""
    folder = with_key(shop, "{j6: {turns: 400 deg, unwound at: 50 deg}, j4: {turns: 5 rad}}")
    plain = load_cell(folder)
    assert plain.hoses == (Hose(3, 5.0), Hose(5, np.radians(400), np.radians(50)))
    for signs, zero, unwound in (((1, 1, 1, 1, 1, -1), 20.0, -30.0), ((1,) * 6, 0.0, 50.0)):
        zeros = np.radians([0, 0, 0, 0, 0, zero])
        arm = plain.arm.with_readings(ReadingsMap.of(signs, zeros))
        source, faults = YamlSource("cell.yaml", {}, b""), FaultList()
        entries = {"j6": HoseEntry(**{"turns": "400 deg", "unwound at": "50 deg"})}
        (hose,) = read_hoses(entries, arm, source, faults)
        assert hose.unwound == pytest.approx(np.radians(unwound)) and not len(faults)
        said = hoses_document((hose,), arm)["hoses"]["j6"]
        again = read_hoses({"j6": HoseEntry(**said)}, arm, source, faults)
        assert again[0].unwound == pytest.approx(hose.unwound, abs=1e-12)
    assert list(differences(plain, load_cell(save_cell(plain, tmp_path / "again")))) == []


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{j7: {turns: 300 deg}}", "no joint that turns is called 'j7'"),
        ("{j6: {turns: 300}}", "300"),
        ("{j6: {turns: 4 deg}}", "came 4 deg of turns; expected at least 10 deg"),
        ("{j6: {turns: 20 m}}", "is not a unit of angle"),
        ("{j6: {unwound at: 0 deg}}", "turns"),
        ("{joint 6: {turns: 300 deg}}", "one of: j1, j2"),
    ],
)
def test_what_cannot_be_meant_is_one_fault(shop, text, says):  # noqa: F811
    with pytest.raises(CellFaults) as error:
        load_cell(with_key(shop, text))
    assert says in str(error.value) and "hoses" in str(error.value)
    assert str(error.value).startswith("1 fault")


def test_records_are_refused_too():
    c = turned(5, 10)
    for hoses in ((Hose(6, 3.0),), (Hose(5, 3.0), Hose(5, 4.0))):
        with pytest.raises(CellError, match="hose"):
            dataclasses.replace(c, hoses=hoses)
    with pytest.raises(CellError, match="turns"):
        Hose(5, 0.01)
    slides = rail_arm()
    assert slides.prismatic[0]
    c = cell({"home": np.zeros(7)}, [joint("home")], arm=slides)
    with pytest.raises(CellError, match="a joint that turns"):
        dataclasses.replace(c, hoses=(Hose(0, 3.0),))


def test_advice_counts_a_finding_about_hoses_as_no_other():
    """The sample's joint 6 winds up little: with a package that stands 20 deg it is told."""
    c = load_cell(SAMPLES / "gate_hinge")
    q = plan_program(c).q[:, 5]
    way = float(np.ptp(q))
    told_of = [f for f in pathsim.check(with_hoses(c, Hose(5, way - 0.01))).findings
               if f.kind is FindingKind.WIND_UP]  # fmt: skip
    assert len(told_of) == 1
    assert pathsim.check(with_hoses(c, Hose(5, way + 0.01))).is_clear
