"""Advice leaves a weld as check says: back along the wire, another way where it is worth it."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from pathsim.advice.proposal import POINT, Proposal, off_habit
from pathsim.advice.roots import UNPLAIN, Root, directions
from pathsim.advice.section_plan import _price
from pathsim.advice.sites import Site
from pathsim.files import load_cell
from pathsim.findings.places import ALONG_WIRE, STRAIGHT_UP, plain_ways

SAMPLES = Path(__file__).parents[2] / "sample_cells"


@pytest.fixture(scope="module")
def hinge():
    cell = load_cell(SAMPLES / "gate_hinge")
    return cell, cell.points["weld end"].q


def test_the_wires_way_comes_before_straight_up(hinge):
    cell, q = hinge
    ways = plain_ways(cell, q)
    assert [words for words, _ in ways] == [ALONG_WIRE, STRAIGHT_UP]
    assert np.allclose(ways[0][1], -cell.tool_poses(q[None])[0, :3, 2])
    assert np.allclose(ways[1][1], [0, 0, 1])
    site = Site("retract", q, q, "weld end", "retract", True, 4, 0.1)
    for (words, way), (said, other) in zip(ways, site.directions(cell), strict=True):
        assert words == said and np.array_equal(way, other)
    plain = [way.words for way in directions(cell, q) if way.is_plain]
    assert plain == [ALONG_WIRE, STRAIGHT_UP]


def test_an_upright_wire_is_left_by_the_same_word():
    cell = load_cell(SAMPLES / "search_beside_rib")
    q = cell.points["plate touch"].q
    assert [words for words, _ in plain_ways(cell, q)] == [ALONG_WIRE]
    plain = [way for way in directions(cell, q) if way.is_plain]
    assert [way.words for way in plain] == [ALONG_WIRE] and plain[0].way[2] > 0.999


def test_the_habit_costs_nothing_and_what_is_odd_most(hinge):
    cell, q = hinge
    by_words = {way.words: way for way in directions(cell, q)}
    prices = {words: _price(Root(q, 1.0, way, 0.05)) for words, way in by_words.items()}
    assert prices[ALONG_WIRE] == pytest.approx(1.0 + POINT)
    assert prices[STRAIGHT_UP] == pytest.approx(1.0 + POINT + 0.1)
    others = {price for words, price in prices.items() if words not in (ALONG_WIRE, STRAIGHT_UP)}
    assert len(others) > 0 and np.allclose(list(others), 1.0 + POINT + UNPLAIN)


@pytest.mark.parametrize(("slower", "first"), [(0.05, ALONG_WIRE), (0.2, STRAIGHT_UP)])
def test_of_two_proposals_the_habit_comes_first_where_it_costs_little(slower, first):
    def proposal(words, seconds):
        before = SimpleNamespace(trajectory=SimpleNamespace(duration=10.0))
        after = SimpleNamespace(trajectory=SimpleNamespace(duration=10.0 + seconds))
        change = SimpleNamespace(points={"retract": None}, size=2)
        return Proposal("retract", words, change, (None,), before, after,
                        off_habit=off_habit(words))  # fmt: skip

    both = [proposal(STRAIGHT_UP, 1.0), proposal(ALONG_WIRE, 1.0 + slower)]
    assert min(both, key=lambda p: p.rank).text == first
