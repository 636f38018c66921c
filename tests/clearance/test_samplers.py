"""Looks of both engines over a move: the nearest pair at moments, and bounds in between."""

import numpy as np
import pytest

from pathsim.clearance import ReferenceEngine
from pathsim.clearance.contact_rules import pairs_to_measure
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.swept.engine import FastEngine
from pathsim.errors import CannotCheck
from pathsim.files import load_cell
from pathsim.motion import PATH_ERROR, plan_program
from tests.clearance.oracle import dense_distances

#: A cell whose torch touches, one whose table turns, and one whose arm is on a rail.
CELLS = ("gate_hinge_no_retract", "turned_collar", "hanging_rail")


@pytest.fixture(scope="module", params=CELLS)
def on_a_move(request):
    """Return a cell, the move in which something comes nearest, its pairs, and moments of it."""
    cell = load_cell(f"sample_cells/{request.param}")
    tracks = plan_program(cell).tracks
    track = tracks[3] if request.param == "gate_hinge_no_retract" else tracks[2]
    pairs = [pair for pair in pairs_to_measure(cell, track, obstacles(cell))
             if pair[0].is_torch or pair[0].body]  # fmt: skip
    times = np.linspace(track.t[0], track.t[-1], 24)
    return cell, track, pairs, times


def test_both_engines_see_the_same_pair_at_each_moment(on_a_move):
    cell, track, pairs, times = on_a_move
    asked = np.ones((len(times), len(pairs)), dtype=bool)
    asked[::3, :2] = False
    fast = FastEngine(cell).looks(track, pairs).nearest(times, asked)
    reference = ReferenceEngine(cell).looks(track, pairs).nearest(times, asked)
    np.testing.assert_array_equal(np.isfinite(fast.distance), np.isfinite(reference.distance))
    assert np.isfinite(fast.distance).any()
    seen = np.isfinite(fast.distance)
    np.testing.assert_allclose(fast.distance[seen], reference.distance[seen], atol=1.1e-5)
    assert ((fast.pair >= 0) == seen).all() and np.isnan(fast.on_moving[~seen]).all()
    gap = np.linalg.norm(fast.on_moving - fast.on_standing, axis=1)
    apart = seen & (fast.distance > 0)
    np.testing.assert_allclose(gap[apart], fast.distance[apart], atol=1e-9)
    # Two pairs may be as near as each other; else it is the same one.
    other = fast.pair != reference.pair
    for k in np.flatnonzero(other):
        alone = np.zeros((1, len(pairs)), dtype=bool)
        alone[0, fast.pair[k]] = True
        again = ReferenceEngine(cell).looks(track, pairs).nearest(times[k : k + 1], alone)
        assert again.distance[0] == pytest.approx(reference.distance[k], abs=1.1e-5)


def test_no_bound_between_looks_is_above_dense_samples_or_far_below(on_a_move):
    cell, track, pairs, times = on_a_move
    asked = np.ones((len(times) - 1, len(pairs)), dtype=bool)
    asked[4:8, 0] = False
    nothing = np.zeros(asked.shape)
    engine = FastEngine(cell)
    fast, nearest = engine.looks(track, pairs).least(times, asked, nothing)
    reference, _ = ReferenceEngine(cell).looks(track, pairs).least(times, asked, nothing)
    assert ((nearest >= 0) == (fast < engine.cap)).all() and (nearest >= 0).any()
    assert asked[np.flatnonzero(nearest >= 0), nearest[nearest >= 0]].all()
    for k in range(len(times) - 1):
        least = engine.cap
        for column in np.flatnonzero(asked[k]):
            window = (times[k], times[k + 1])
            _, seen = dense_distances(cell, track, *pairs[column], window, 60)
            least = min(least, seen.min())
        assert fast[k] <= least + 1e-9
        # Samples this dense stand at most 2 mm of way apart here.
        assert fast[k] >= least - engine.tolerance - PATH_ERROR - 2e-3
    assert (reference <= fast + engine.tolerance + 1e-9).all()


def test_what_is_proved_already_is_kept(on_a_move):
    cell, track, pairs, times = on_a_move
    asked = np.ones((len(times) - 1, len(pairs)), dtype=bool)
    for engine in (FastEngine(cell), ReferenceEngine(cell)):
        looks = engine.looks(track, pairs)
        for which, known in ((asked, engine.cap), (~asked, 0.0)):
            least, nearest = looks.least(times, which, np.full(asked.shape, known))
            assert (least == engine.cap).all() and (nearest == -1).all()
        assert (looks.least(times, asked, np.full(asked.shape, 0.01))[0] >= 0.01).all()


def test_the_chart_of_both_engines_holds_the_same():
    cell = load_cell("sample_cells/gate_hinge_no_retract")
    trajectory = plan_program(cell)
    charts = [clearance_profile(cell, trajectory, engine(cell), 0.2)
              for engine in (FastEngine, ReferenceEngine)]  # fmt: skip
    common, *places = np.intersect1d(charts[0].t, charts[1].t, return_indices=True)
    assert len(common) > 100
    seen = [np.minimum(chart.seen[at], chart.cap) for chart, at in zip(charts, places, strict=True)]
    np.testing.assert_allclose(*seen, atol=1.1e-5)
    for chart, other in (charts, charts[::-1]):
        last = len(chart.guaranteed) - 1
        k = np.searchsorted(chart.t, other.t, side="right") - 1
        between = (k <= last) & ~np.isin(other.t, chart.t)  # at borders two rules meet
        between &= np.isfinite(chart.guaranteed[np.minimum(k, last)])
        most = np.minimum(other.seen, other.cap)[between]
        assert (chart.guaranteed[k[between]] <= most + 1e-5).all()


def test_a_bound_that_is_no_number_is_refused_not_clear(monkeypatch):
    cell = load_cell("sample_cells/gate_hinge_no_retract")
    track = plan_program(cell).tracks[3]
    pairs = pairs_to_measure(cell, track, obstacles(cell))
    looks = FastEngine(cell).looks(track, pairs)
    monkeypatch.setattr("pathsim.clearance.swept.search.search_all",
                        lambda *given: given[9].fill(np.nan))  # fmt: skip
    times = track.t[[0, -1]]
    asked = np.ones((2, len(pairs)), dtype=bool)
    with pytest.raises(CannotCheck, match="not a number"):
        looks.least(times, asked[:1], np.zeros((1, len(pairs))))
    with pytest.raises(CannotCheck, match="not a number"):
        looks.nearest(times, asked)
