"""Pairs as numbers and as records: the same, in order, and none is left out in silence."""

import copy
import pickle

import numpy as np
import pytest

from pathsim import CannotCheck, check, load_cell
from pathsim.clearance import MoveClearance, engine_for, measure
from pathsim.clearance.pair_table import PairTable
from tests.test_public_api import SAMPLES


@pytest.fixture(scope="module", params=["gate_hinge", "search_beside_rib", "three_passes"])
def result(request):
    cell = load_cell(SAMPLES / request.param)
    return check(cell, engine=engine_for(cell))


def told(pair):
    found = pair.clearance
    return (pair.move, pair.piece, pair.body, pair.stretch, pair.margin, found.lower, found.upper,
            found.inner, found.is_wide, pair.spans, pair.within)  # fmt: skip


def test_every_question_stands_in_one_moves_answer(result):
    asked = measure.all_questions(result.cell, result.trajectory)
    count = sum(
        not pair.stretch.corner
        for move in result.moves
        for pair in (*move.pairs, *move.own, *move.wire)
    )
    assert count == len(asked.asked) + len(asked.joined.proved) * len(result.moves)


def test_an_answer_that_no_move_tells_of_is_no_check(monkeypatch):
    cell = load_cell(SAMPLES / "gate_hinge")
    whole = measure.pairs_to_measure
    monkeypatch.setattr(measure, "pairs_to_measure", lambda *of: whole(*of)[:-1])
    with pytest.raises(CannotCheck, match="answers belong to no move's pairs, the first of"):
        check(cell, engine=engine_for(cell))


def test_numbers_are_those_of_the_records(result):
    for move in result.moves:
        for table in (move.table, move.own_table):
            numbers, records = table.numbers, list(table)
            assert len(table) == len(records)
            assert [numbers.names[k] for k in numbers.name] == [(r.piece, r.body) for r in records]
            assert numbers.lower.tolist() == [r.clearance.lower for r in records]
            assert numbers.upper.tolist() == [r.clearance.upper for r in records]
            assert numbers.margin.tolist() == [r.margin for r in records]
            assert numbers.touches.tolist() == [r.clearance.touches for r in records]
            assert numbers.is_wide.tolist() == [r.clearance.is_wide for r in records]
            # And made from the records alone they are the same.
            again = PairTable.of(records).numbers
            for name in ("lower", "upper", "margin", "is_wide", "touches", "is_doubtful"):
                assert np.array_equal(getattr(again, name), getattr(numbers, name))


def test_what_is_doubtful_and_worst_is_so_by_the_records(result):
    for move in result.moves:
        noteworthy = move.noteworthy
        doubtful = [
            pair
            for pair in noteworthy
            if pair.clearance.lower < pair.margin
            or pair.clearance.touches
            or pair.clearance.is_wide
        ]
        assert list(move.doubtful) == doubtful
        worst = min(
            noteworthy,
            key=lambda p: (not p.clearance.touches, p.clearance.lower, p.clearance.upper),
        )
        assert move.worst is worst


def test_a_record_is_made_once_and_tables_are_read_like_tuples(result):
    table = result.moves[0].table
    assert table[3] is table[3] is list(table)[3]
    assert table[-1] is list(table)[-1]
    assert table[2:5] == tuple(list(table)[2:5])
    assert table[0] in table
    with pytest.raises(IndexError):
        table[len(table)]


def by_pickle(value):
    return pickle.loads(pickle.dumps(value))  # noqa: S301 - our own


@pytest.mark.parametrize("again", [copy.deepcopy, by_pickle])
def test_copies_hold_the_same_records(result, again):
    move = result.moves[0]
    other = again(move)
    assert isinstance(other, MoveClearance)
    for one, two in ((move.pairs, other.pairs), (move.own, other.own)):
        assert [told(pair) for pair in one] == [told(pair) for pair in two]
    assert other.table.numbers.lower.tolist() == move.table.numbers.lower.tolist()
