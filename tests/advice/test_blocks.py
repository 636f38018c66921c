"""One block a move: each sentence once, and the findings named where it is not about all."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pathsim.advice import Advice, Evaluator, advise
from pathsim.advice.blocks import block_in_words, blocks
from pathsim.files import load_cell
from pathsim.session import Session
from tests.advice.test_advise import SAMPLES


@pytest.fixture(scope="module")
def advice():
    return advise(Evaluator(load_cell(SAMPLES / "gate_hinge_no_retract"), Session()))


def said_of(block):
    return [list(paragraph) for paragraph in block_in_words(block)]


def test_a_move_is_one_block_whatever_was_found_on_it(advice):
    assert [len(block) for block in blocks(advice)] == [4]
    other = replace(advice[1], finding=replace(advice[1].finding, move=2))
    none = [replace(a, finding=replace(a.finding, move=None)) for a in advice[2:]]
    mixed = blocks((advice[0], other, *none))
    assert [[a.number for a in block] for block in mixed] == [[1], [2], [3], [4]]
    apart = blocks((advice[0], other, advice[2]))
    assert [[a.number for a in block] for block in apart] == [[1, 3], [2]]


def test_findings_are_named_only_where_a_sentence_is_not_about_all(advice):
    (block,) = blocks(advice)
    heads = [p[0] for p in said_of(block)]
    assert len(heads) == len(set(heads))
    assert not any("Finding" in line or "Of these" in line for p in said_of(block) for line in p)
    first = replace(advice[0], proposals=(), never="Never.", tried=())
    second = replace(advice[1], proposals=(), tried=("a", "b"))
    third = replace(advice[2], proposals=advice[2].proposals[:1], tried=("b",))
    best = replace(third.proposals[0], cures=(third.finding,))
    third = replace(third, proposals=(best,))
    said = said_of((first, second, third))
    assert said[0] == ["Finding 1: Never."]
    assert said[1][-1] == "Of these findings it cures 3."
    assert said[2] == [
        "Finding 2: Nothing was found that cures it and worsens nothing. Tried: a; b."
    ]
    assert said[3] == ["Tried without success: b."]


def test_nothing_is_said_to_have_been_tried_that_was_not(advice):
    alone = Advice(advice[0].finding, 1, ())
    said = said_of((alone,))
    assert len(said) == 1 and said[0][0].startswith("Nothing was tried")
    cell = replace(alone, never="Never.", tried_on_cell=("x",))
    assert said_of((cell,)) == [["Never."], ["Changes of the cell tried without success: x."]]
