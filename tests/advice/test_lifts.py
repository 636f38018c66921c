"""Lowering two points at once: neither may go a step lower in what comes out."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from pathsim.advice import Evaluator, lifts, two_lifts
from pathsim.advice.lift_records import HIGHEST, STEP, heights_tried
from pathsim.advice.lifts import _hopeless
from pathsim.advice.two_lifts import _lowered
from pathsim.files import load_cell
from pathsim.session import Session
from tests.advice.test_advise import SAMPLES


@pytest.mark.parametrize(
    ("need_a", "need_b"), [(3, 3), (3, 12), (12, 3), (1, 9), (9, 1), (0, 0), (20, 20)]
)
def test_each_point_comes_down_to_what_it_needs(need_a, need_b):
    grid = heights_tried()

    def clears(a, b):
        return a >= grid[need_a] - 1e-12 and b >= grid[need_b] - 1e-12

    start = grid[max(need_a, need_b)]
    assert _lowered(clears, (start, start)) == (grid[need_a], grid[need_b])


def test_where_the_two_need_each_other_it_ends_where_neither_can_go_lower():
    grid = heights_tried()

    def clears(a, b):
        return a + b >= 0.1 - 1e-12 and a >= 0.02 - 1e-12

    a, b = _lowered(clears, (grid[11], grid[11]))
    assert clears(a, b)
    assert not clears(a - STEP, b)
    assert not clears(a, b - STEP)


def test_heights_are_on_the_grid_up_to_the_highest():
    assert np.allclose(np.diff(heights_tried()), STEP)
    assert heights_tried()[0] == STEP and heights_tried()[-1] == pytest.approx(0.40)


def tried_at(monkeypatch, is_clear, reach=1.0):
    """Heights that are tried where ``is_clear`` tells which clear; beyond ``reach`` none is."""
    tried = []

    def at(_evaluator, _site, _direction, height):
        tried.append(height)
        if height > reach:
            return None
        return SimpleNamespace(is_clear=is_clear(height), short=None, why_not="it touches")

    monkeypatch.setattr(lifts, "_at", at)
    monkeypatch.setattr(lifts, "seen_short", lambda _e, _s, _d, heights: [False] * len(heights))
    site = SimpleNamespace(kind="retract", is_at_weld=False)
    return _hopeless(None, site, "straight up", np.array([0.0, 0.0, 1.0])), tried


def test_where_no_coarse_height_clears_it_says_which_were_tried(monkeypatch):
    found, tried = tried_at(monkeypatch, lambda _: False)
    assert np.allclose(np.diff([0.0, *tried]), 4 * STEP) and tried[-1] == pytest.approx(HIGHEST)
    assert found.words.startswith("retract straight up, up to 400 mm in steps of 20 mm: ")
    found, _ = tried_at(monkeypatch, lambda _: False, reach=0.13)
    assert "up to 120 mm in steps of 20 mm" in found.words


def test_where_any_height_may_clear_all_are_tried_one_by_one(monkeypatch):
    assert tried_at(monkeypatch, lambda height: height > 0.25)[0] is None
    assert tried_at(monkeypatch, lambda _: False, reach=0.01)[0] is None


def hop():
    """The sample welded twice, from its end straight back to its start."""
    cell = load_cell(SAMPLES / "gate_hinge")
    moves = cell.program.moves
    back = replace(moves[4], target="weld start")
    return replace(cell, program=replace(cell.program, moves=(*moves[:3], back, *moves[2:])))


@pytest.mark.parametrize("is_hop", [False, True])
def test_looks_change_nothing_of_what_is_found(monkeypatch, is_hop):
    """Heights that are seen too near are those that a trial finds too near: words and all."""
    cell = hop() if is_hop else load_cell(SAMPLES / "gate_hinge_no_retract")
    told = []
    for is_blind in (False, True):
        if is_blind:
            monkeypatch.setattr(lifts, "seen_short", lambda _e, _s, _d, h: [False] * len(h))
            monkeypatch.setattr(
                two_lifts, "seen_short_between", lambda _e, _p, _w, h: [False] * len(h)
            )
        evaluator = Evaluator(cell, Session())
        hit = next(f for f in evaluator.before.findings if f.kind == "contact")
        track = evaluator.before.trajectory.tracks[hit.move - 1]
        found = list(lifts.lifts(evaluator, track))
        told.append([(one.words, getattr(one, "evidence", ())) for one in found])
        told.append(evaluator.trials)
    assert told[0] == told[2] and any(evidence for _, evidence in told[0])
    assert told[1] < told[3]
