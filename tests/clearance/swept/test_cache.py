"""Whole answers against dense sampling, and against an upper end that was seen before."""

import numpy as np
import pytest

from pathsim.clearance.swept import search
from pathsim.clearance.swept import search_node as entry
from pathsim.clearance.swept.jobs import intervals_of, search_group
from pathsim.clearance.swept.records import QueryLimits
from pathsim.clearance.swept.search_node import larger, new_heap
from pathsim.motion import PATH_ERROR
from tests.clearance.swept.cases import how_many, random_case

ASKED = QueryLimits(5e-4, 0.05)


def answer(case, asked=ASKED):
    return search_group(case.body, case.to_body, case.trees, case.whole, case.jobs(), asked,
                         case.counts)[0]  # fmt: skip


def moments(case, about, count):
    """Even moments, knots, and many close to one."""
    end = case.times[-1]
    near = np.clip(about + np.linspace(-0.01, 0.01, 41) * end, 0, end)
    return np.unique(np.concatenate([np.linspace(0, end, count), case.times[:60], near, [about]]))


def test_answers_hold_against_dense_sampling():
    rng = np.random.default_rng(31)
    touching = capped = 0
    for k in range(how_many(250, 10000)):
        case = random_case(rng, sharp=k % 4 == 0)
        found = answer(case)
        lower, upper = found[entry.LOWER], found[entry.UPPER]
        true = case.distances(moments(case, found[entry.TIME], 120)).min()
        assert lower <= true + 1e-9, k
        if np.isfinite(upper):
            assert upper >= case.distances(np.array([found[entry.TIME]]))[0] - 1e-9, k
            gap = np.linalg.norm(found[entry.ON_MOVING :][:3] - found[entry.ON_STANDING :][:3])
            assert gap == pytest.approx(upper, abs=1e-9)
        if found[entry.CLOSED] and upper < ASKED.cap:
            width = max(min(ASKED.tolerance, max(upper / 4, entry.FINEST)), entry.FINEST)
            assert upper - lower <= width + 1e-12, k
        if true <= 0:
            assert lower <= 0 or upper <= entry.FINEST
            touching += 1
        capped += lower >= ASKED.cap
    assert touching > 10 and capped > 5


def test_an_upper_end_seen_before_never_makes_a_false_lower_one():
    """The search stops as early as it may: by how much above the truth must not matter."""
    rng = np.random.default_rng(32)
    for k in range(how_many(200, 5000)):
        case = random_case(rng, sharp=k % 4 == 0)
        first = answer(case)
        true = case.distances(moments(case, first[entry.TIME], 80)).min()
        result = np.zeros(entry.RESULT)
        result[entry.UPPER] = true + 10.0 ** rng.uniform(-7, 0)
        numbers, whole = new_heap()
        pair = case.pair()
        so_far = search.at_the_root(pair, numbers, whole, result)
        so_far = search.closest(pair, ASKED, numbers, whole, case.workspace(), result, so_far)
        assert not so_far.wants_room
        assert result[entry.LOWER] <= true + 1e-9, k


def test_a_heap_that_is_too_small_changes_no_answer():
    """The search leaves when its heap is full and goes on in a larger one."""
    rng = np.random.default_rng(34)
    grown = 0
    for k in range(40):
        case = random_case(rng, sharp=k % 4 == 0)
        numbers, whole = np.empty((4, 4)), np.empty((4, 4), np.int64)
        result = np.zeros(entry.RESULT)
        result[entry.UPPER] = np.inf
        pair, workspace = case.pair(), case.workspace()
        so_far = search.at_the_root(pair, numbers, whole, result)
        so_far = search.closest(pair, ASKED, numbers, whole, workspace, result, so_far)
        while so_far.wants_room:
            grown += 1
            numbers, whole = larger(numbers, whole, so_far.filled)
            so_far = search.closest(pair, ASKED, numbers, whole, workspace, result, so_far)
        expected = answer(case)
        for column in (entry.LOWER, entry.UPPER, entry.CLOSED):
            assert result[column] == expected[column]
    assert grown > 20


def test_spans_leave_nothing_out_and_are_short():
    rng = np.random.default_rng(33)
    some = 0
    for k in range(how_many(120, 2500)):
        case = random_case(rng, sharp=k % 4 == 0)
        limit = float(rng.choice([PATH_ERROR, 0.002, 0.01, 0.03]))
        spans = intervals_of(case.body, case.to_body, case.piece, case.whole, case.trees, limit,
                          case.counts)  # fmt: skip
        times = np.unique(np.concatenate([np.linspace(0, case.times[-1], 150), case.times[:60]]))
        values = case.distances(times)
        inside = np.zeros(len(times), bool)
        for start, end in spans:
            inside |= (times >= start - 1e-9) & (times <= end + 1e-9)
        assert inside[values < limit].all(), k
        # What is clearly beyond the limit, by more than the shortest way told apart, is out.
        assert not inside[values > limit + 2e-3].any(), k
        some += len(spans) > 0
    assert some > 20


def test_counts_of_a_known_pair_do_not_grow():
    """Work on one fixed pair: a bound made looser by accident shows here first."""
    case = random_case(np.random.default_rng(8))
    answer(case)
    first = case.counts.copy()
    answer(case)
    assert (case.counts == 2 * first).all()
