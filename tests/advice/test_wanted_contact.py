"""Advice leaves searches and stations as they are, and says so."""

import dataclasses

import numpy as np
import pytest

from pathsim import advise
from pathsim.advice.change import Change
from pathsim.advice.explain import explain
from pathsim.check import check
from pathsim.errors import WeldTouched
from pathsim.findings import FindingKind
from pathsim.findings.weld_places import fixed_points, weld_points
from tests.builders import joint, linear
from tests.clearance.searches import ACROSS, UP, plate, rib, search, search_cell
from tests.clearance.test_stations import station_cell

USUAL = {"overtravel": 0.005, "margin": 0.004}


@pytest.mark.parametrize("name", ["above", "touch"])
def test_no_point_of_a_search_or_station_can_be_moved(name):
    for c in (search_cell([plate()], **USUAL), station_cell()):
        with pytest.raises(WeldTouched, match=name):
            Change(c, {name: c.points[name].q + 0.01})


def test_no_search_can_be_made_otherwise():
    c = search_cell([plate()], **USUAL)
    faster = dataclasses.replace(c.program.moves[1], speed=0.05)
    for change in ({"instead": ((1, faster),)}, {"moves": ((1, linear("retract")),)}):
        with pytest.raises(WeldTouched):
            Change(c, **change)
    Change(c, {"retract": c.points["retract"].q + 0.01})


def test_a_search_start_in_the_air_is_no_weld_point():
    c = search_cell([plate()], **USUAL)
    assert {"above", "touch"} <= fixed_points(c) and "above" not in weld_points(c)


def test_a_hit_on_the_search_itself_is_said_to_have_no_air_point():
    result = check(search_cell([plate(), rib(0.006, 0.02)], **USUAL))
    advice = advise(result)
    (said,) = (a for a in advice if a.finding.move == 2 and a.finding.piece == "nozzle")
    assert not said.proposals and "on the search itself; no air point helps" in said.never


def test_a_way_home_into_something_behind_a_search_is_cured_without_it():
    """A joint move leaves the search's point low over a wall: a retract cures it."""
    wall = rib(0.03, 0.06, 0.01, "wall")
    moves = [joint("above"), search("touch", **USUAL), joint("beyond"), joint("home")]
    points = {"beyond": 0.12 * ACROSS + 0.05 * UP}
    c = search_cell([plate(), wall], moves=moves, points=points)
    result = check(c)
    hits = [f for f in result.findings if f.kind is FindingKind.CONTACT and f.move == 3]
    assert hits
    proposals = [p for a in advise(result) if a.finding.move == 3 for p in a.proposals]
    assert proposals
    for proposal in proposals:
        after = proposal.after.cell
        assert [m for m in after.program.moves if m.is_fixed] == [c.program.moves[1]]
        for name in ("above", "touch"):
            assert np.array_equal(after.points[name].q, c.points[name].q)


def test_every_finding_of_a_search_is_explained():
    for c in (search_cell([plate(-0.02)], **USUAL), search_cell([plate(0.005)], **USUAL)):
        result = check(c)
        (finding,) = (f for f in result.findings if f.kind is FindingKind.TOUCH_SEARCH)
        text = " ".join(explain(result, finding))
        assert "checked as taught" in text
