"""Questions in any order, asked again or one by one, get the same answers; nothing old is used."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pathsim.clearance.engine import Span
from pathsim.clearance.joint_pairs import own_pairs
from pathsim.clearance.measure import measure_moves
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.clearance.stretches import stretches
from pathsim.clearance.swept.batch import Batch, Chains, numbered
from pathsim.clearance.swept.cache import EngineCache, ResultCache
from pathsim.clearance.swept.engine import FastEngine
from pathsim.clearance.swept.jobs import intervals_of
from pathsim.clearance.swept.search_node import RESULT
from pathsim.clearance.swept.window_knots import WHOLE, _rising, knots_within, window_knots, within
from pathsim.errors import CannotCheck
from pathsim.files import load_cell
from pathsim.motion import plan_program
from pathsim.transforms import translation
from tests.benchmarks.clearance_scenes import random_moves

SAMPLES = Path(__file__).parents[3] / "sample_cells"


def asked(cell):
    trajectory = plan_program(cell)
    return queries_of(cell, trajectory, obstacles(cell), own_pairs(cell)).queries


def told(clearance):
    """All that an answer says, to the last bit."""
    points = [None if p is None else p.tobytes()
              for p in (clearance.on_moving, clearance.on_standing)]  # fmt: skip
    return (clearance.lower, clearance.upper, clearance.time, *points, clearance.inner,
            clearance.is_capped, clearance.is_wide)  # fmt: skip


def assert_alike(found, expected):
    """To the last bit: an answer depends on its question alone."""
    assert [told(one) for one in found] == [told(one) for one in expected]


@pytest.fixture(scope="module", params=["gate_hinge", "turned_collar", "hanging_rail"])
def crowded(request):
    """A cell whose random moves go through everything, its questions and their answers."""
    cell = random_moves(load_cell(SAMPLES / request.param), 6, 7)
    queries = asked(cell)
    answers = FastEngine(cell).min_distance(queries)
    assert sum(np.isfinite(one.upper) for one in answers) > 5 and len(queries) > 100
    return cell, queries, answers


def test_neither_order_nor_repetition_matters(crowded):
    cell, queries, answers = crowded
    rng = np.random.default_rng(3)
    order = rng.permutation(np.tile(np.arange(len(queries)), 2)).tolist()
    for threads in (1, 2):
        found = FastEngine(cell, threads=threads).min_distance([queries[i] for i in order])
        assert_alike(found, [answers[i] for i in order])


def test_one_by_one_and_part_by_part(crowded):
    """Half known and half not: what is known comes from memory, the rest from the kernels."""
    cell, queries, answers = crowded
    engine, rng = FastEngine(cell), np.random.default_rng(4)
    single = rng.permutation(len(queries))[:60].tolist()
    found = [engine.min_distance([queries[i]])[0] for i in single]
    assert_alike(found, [answers[i] for i in single])
    for some in np.array_split(rng.permutation(len(queries)), 3):
        found = engine.min_distance([queries[i] for i in some.tolist()])
        assert_alike(found, [answers[i] for i in some.tolist()])
    before, first = engine.counts.copy(), engine.min_distance(queries)
    assert_alike(first, answers)
    again = engine.min_distance(queries[::-1])[::-1]
    assert [told(c) for c in first] == [told(c) for c in again]
    assert (engine.counts == before).all()
    assert engine.min_distance([]) == []


def test_other_numbers_asked_for_find_no_old_answer(crowded):
    cell, queries, _ = crowded
    memory = EngineCache()
    FastEngine(cell, memory=memory).min_distance(queries)
    for numbers in ({"cap": 0.03}, {"tolerance": 2e-3}):
        found = FastEngine(cell, memory=memory, **numbers).min_distance(queries)
        fresh = FastEngine(cell, **numbers).min_distance(queries)
        assert [told(c) for c in found] == [told(c) for c in fresh]


def test_other_places_and_pieces_find_no_old_answer_and_no_old_span():
    """Bodies moved by a hair and by much, a torch of another shape: as if nothing were known."""
    cell = random_moves(load_cell(SAMPLES / "gate_hinge"), 4, 11)
    memory = EngineCache()
    measure_moves(cell, plan_program(cell), FastEngine(cell, memory=memory))
    others = []
    for way in (1e-9, 0.003, 0.1):
        bodies = [replace(b, T_world_body=translation([way, 0.0, 0.0]) @ b.T_world_body)
                  for b in cell.bodies]  # fmt: skip
        others.append(replace(cell, bodies=tuple(bodies)))
    first, *rest = cell.torch.pieces
    longer = replace(first, mesh=first.mesh.moved(translation([0.0, 0.0, 0.004])))
    others.append(replace(cell, torch=replace(cell.torch, pieces=(longer, *rest))))
    near = 0
    for other in others:
        results = [measure_moves(other, plan_program(other), FastEngine(other, memory=kept))
                   for kept in (memory, EngineCache())]  # fmt: skip
        for found, fresh in zip(*results, strict=True):
            for a, b in zip((*found.pairs, *found.own), (*fresh.pairs, *fresh.own), strict=True):
                assert (a.piece, a.body, a.stretch, a.margin) == (
                    b.piece,
                    b.body,
                    b.stretch,
                    b.margin,
                )
                assert told(a.clearance) == told(b.clearance) and a.spans == b.spans
                near += a.clearance.lower < a.margin
    assert near > 20


def test_when_it_is_near_is_not_worked_out_twice(monkeypatch):
    cell = random_moves(load_cell(SAMPLES / "gate_hinge"), 2, 11)
    trajectory, memory = plan_program(cell), EngineCache()
    results, asked_for = [], []
    for _ in range(2):
        worked_out = []
        monkeypatch.setattr(
            "pathsim.clearance.swept.engine.intervals_of",
            lambda *of, kept=worked_out: (kept.append(of), intervals_of(*of))[1],
        )
        engine = FastEngine(cell, memory=memory)
        moves = measure_moves(cell, trajectory, engine)
        results.append([pair.spans for move in moves for pair in (*move.pairs, *move.own)])
        asked_for.append(len(worked_out))
    assert results[0] == results[1]
    assert asked_for[0] > 0 and asked_for[1] == 0
    # Another threshold is another question.
    pair = next(p for m in moves for p in m.pairs if p.clearance.lower < p.margin and p.spans)
    piece = next(p for p in cell.pieces if p.name == pair.piece)
    standing = next(s for s in obstacles(cell) if s.name == pair.body)
    track = trajectory.tracks[pair.move - 1]
    window = Span(float(track.t[0]), float(track.t[-1]))
    short, long = (engine.on(track).intervals_below(piece, standing, window, limit)
                   for limit in (pair.margin, 2 * pair.margin))  # fmt: skip
    assert sum(b - a for a, b in long) > sum(b - a for a, b in short)


def test_a_batch_has_each_pair_and_each_stretch_once():
    cell = random_moves(load_cell(SAMPLES / "turned_collar"), 2, 1)
    queries = asked(cell)[::-1]
    batch = Batch.of(queries, Chains(cell, EngineCache()))
    assert len(set(batch.pairs)) == len(batch.pairs) < len(queries)
    assert len(set(batch.parts)) == len(batch.parts)
    for question, pair, part in zip(queries, batch.pair, batch.part, strict=True):
        assert batch.pairs[pair] == question[1:3]
        assert batch.parts[part].chain == batch.sorted.chains[pair]
        assert batch.parts[part].start == question.window.start
    some = np.arange(0, len(queries), 3)
    groups = batch.groups(some)
    assert np.array_equal(np.sort(np.concatenate(list(groups.values()))), some)
    for (_, standing), members in groups.items():
        assert all(queries[i].standing is standing for i in members)


def test_numbers_in_order_of_appearance():
    number, each = numbered("abcabd")
    assert number.tolist() == [0, 1, 2, 0, 1, 3] and each == list("abcd")


def test_kept_answers():
    answers, rng = ResultCache(most=5), np.random.default_rng(0)
    keys = [(b"part", str(k).encode()) for k in range(9)]
    rows = rng.normal(size=(9, RESULT))
    answers.keep(keys[:3], rows[:3])
    found, known = answers.find(keys[:5])
    assert known.tolist() == [True] * 3 + [False] * 2
    assert np.array_equal(found[:3], rows[:3]) and np.isnan(found[3:]).all()
    answers.keep(keys[3:5], rows[3:5])
    answers.keep(keys[5:6], rows[5:6])  # one more than there is room for
    assert answers.find(keys)[1].tolist() == [k == 5 for k in range(9)]
    answers.keep(keys, rows)
    assert np.array_equal(answers.find(keys[::-1])[0], rows[::-1])
    answers.clear()
    assert len(answers) == 0 and not answers.find(keys)[1].any()


def test_an_answer_that_is_missing_never_reads_as_clear():
    """A row that nobody filled is not a number, and that is said aloud."""
    cell = load_cell(SAMPLES / "gate_hinge")
    engine = FastEngine(cell)
    engine.memory.answers.find = lambda keys: (
        np.full((len(keys), RESULT), np.nan), np.ones(len(keys), bool))  # fmt: skip
    with pytest.raises(CannotCheck, match="not a number"):
        engine.min_distance(asked(cell))


def test_what_was_done_before_giving_up_is_kept():
    cell = load_cell(SAMPLES / "gate_hinge")
    queries, memory = asked(cell), EngineCache()

    class EnoughError(Exception):
        pass

    def stop(share):
        if share > 0.3:
            raise EnoughError

    with pytest.raises(EnoughError):
        FastEngine(cell, memory=memory, threads=1).min_distance(queries, stop)
    assert 0 < len(memory.answers) < len(queries)
    found = FastEngine(cell, memory=memory).min_distance(queries)
    fresh = FastEngine(cell).min_distance(queries)
    assert [told(c) for c in found] == [told(c) for c in fresh]


def test_knots_of_a_stretch_are_those_of_the_move_and_its_two_ends():
    """Times are told to a nanosecond; on a whole move joints are those of the knots to the bit."""
    cell = load_cell(SAMPLES / "turned_collar")
    rng = np.random.default_rng(5)
    for track in plan_program(cell).tracks:
        linkage = cell.relative_linkage
        t = track.t
        inner = np.sort(rng.uniform(t[0], t[-1], (6, 2)), axis=1).tolist()
        knots = [(t[0], t[-1]), (t[0], t[len(t) // 2]), (t[len(t) // 3], t[-1]), (t[0], t[0])]
        for start, end in [*inner, *knots, (t[1] - 1e-13, t[-1])]:
            part = within(track, Span(float(start), float(end)))
            q, times = window_knots(track, part, linkage)
            if start == end:
                assert len(q) == 2 and np.array_equal(q[0], q[1])
                continue
            most = np.abs(np.diff(track.q, axis=0) / np.diff(t)[:, None]).max() * 2e-9
            assert (start, end) != (t[0], t[-1]) or part == WHOLE
            line = knots_within(track, part).line
            if line is not None:  # few knots on a straight line of joint space, in place of its own
                there = linkage.joints(track.q_at(start + line.real(times)))
                assert np.allclose(q, there, rtol=0, atol=most + 1e-11)
                continue
            if part == WHOLE:
                assert np.array_equal(q, linkage.joints(track.q))
            inside = t[(t > start) & (t < end)]
            moments = np.concatenate([[start], inside, [end]])
            assert (np.diff(times) > 0).all() and abs(times[-1] - (end - start)) <= 1.1e-9
            near = np.abs(times[:, None] - (moments - start))
            assert near.min(axis=1).max() <= 1.1e-9 and len(times) >= len(moments) - 1
            place = np.argmin(near, axis=1)
            there = linkage.joints(track.q_at(moments[place]))
            assert np.allclose(q, there, rtol=0, atol=most + 1e-11)


def test_a_move_that_starts_later_has_the_same_stretches_to_the_last_bit():
    cell = load_cell(SAMPLES / "gate_hinge")
    trajectory, linkage = plan_program(cell), cell.world_linkage
    for track in trajectory.tracks:
        parts = stretches(cell, trajectory, track)
        for clock in (0.1, 1 / 3, 1234.567):
            later = replace(track, t=track.t + clock)
            for part in parts:
                window = Span(part.start, part.end)
                moved = Span(part.start + clock, part.end + clock)
                assert within(track, window) == within(later, moved)
                a, b = (window_knots(one, within(one, where), linkage)
                        for one, where in ((track, window), (later, moved)))  # fmt: skip
                assert np.array_equal(a[0], b[0]) and np.array_equal(a[1], b[1])


def test_knots_within_a_tick_of_each_other_all_stay():
    """Ticks would make one time of several, and leave the way between them out."""
    cell = load_cell(SAMPLES / "gate_hinge")
    track, linkage = plan_program(cell).tracks[0], cell.world_linkage
    bits = np.array([0.0, 1e-10, 0.5, 0.5 + 1e-10, 0.5 + 2e-10, 0.9, 1.0 - 2e-10, 1.0 - 1e-10, 1.0])
    bent = track.q[: len(bits)].copy()
    bent[::2, 1] += 1e-3
    close = replace(track, t=bits, q=bent)
    q, times = window_knots(close, WHOLE, linkage)
    assert times.tolist() == bits.tolist()
    assert np.array_equal(q, linkage.joints(close.q))
    part = within(close, Span(0.5, 0.5 + 2e-10))
    q, times = window_knots(close, part, linkage)
    assert len(times) == 3 and np.array_equal(q, linkage.joints(close.q[2:5]))


def test_what_stands_still_at_one_time_counts_once_and_what_moves_takes_a_tick():
    q = np.array([[0.0], [0.0], [1.0], [2.0], [2.0]])
    found, times = _rising(q, np.array([0.0, 0.0, 0.0, 0.5, 0.5]))
    assert found.tolist() == [[0.0], [1.0], [2.0]]
    np.testing.assert_allclose(times, [0.0, 1e-9, 0.5 + 1e-9], rtol=0, atol=1e-15)
