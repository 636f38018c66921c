"""One block a move: each sentence once, and the findings named where it is not about all."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pathsim.advice import Advice, Evaluator, advise
from pathsim.advice.blocks import Said, block_in_words, blocks, changes_needed
from pathsim.advice.cell_proposal import CellChange, CellChangeKind, CellProposal
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
    assert len(said) == 3  # what was tried in vain is listed once


def test_nothing_is_said_to_have_been_tried_that_was_not(advice):
    alone = Advice(advice[0].finding, 1, ())
    said = said_of((alone,))
    assert len(said) == 1 and said[0][0].startswith("Nothing was tried")
    cell = replace(alone, never="Never.", tried_on_cell=("x",))
    assert said_of((cell,)) == [["Never."], ["Changes of the cell tried without success: x."]]


def cell_proposal(text, cures, kind=CellChangeKind.CLAMP_MOVED):
    return CellProposal(CellChange(kind, text, None), tuple(cures), None, None, ("evidence",))


def test_the_same_cure_and_the_same_list_are_told_in_full_once_for_all_moves(advice):
    first, second, third = (replace(a, proposals=(), tried=("a", "b")) for a in advice[:3])
    second = replace(second, finding=replace(second.finding, move=2))
    third = replace(third, finding=replace(third.finding, move=3))
    both = cell_proposal("Move the clamp.", [first.finding, second.finding])
    first, second = replace(first, of_cell=(both,)), replace(second, of_cell=(both,))
    said = Said()
    one, two, three = (
        [list(p) for p in block_in_words((a,), None, said)] for a in (first, second, third)
    )
    assert one[0][0].endswith("Tried: a; b.")
    assert one[2] == ["clamp moved: Move the clamp.", "evidence",
                      "It cures another finding too."]  # fmt: skip
    none = "Nothing was found that cures it and worsens nothing. The same was tried as for finding"
    assert two[0] == three[0] == [f"{none} {first.number}."]
    same = f"It is the same change as for finding {first.number}."
    assert two[2] == [f"clamp moved: Move the clamp. {same}"]
    assert list(changes_needed((first, second))) == []


def test_two_clamps_that_both_have_to_move_are_named_together(advice):
    first, second, third = (replace(a, proposals=()) for a in advice[:3])
    left = cell_proposal("Move the left clamp.", [first.finding, third.finding])
    right = cell_proposal("Move the right clamp.", [second.finding])
    mine = [replace(first, of_cell=(left,)), replace(second, of_cell=(right,)),
            replace(third, of_cell=(left,))]  # fmt: skip
    assert list(changes_needed(mine)) == [
        "No one change of the cell cures all of these. Needed are:",
        "Findings 1 and 3: Move the left clamp.",
        "Finding 2: Move the right clamp.",
        "Each was checked alone. Make them all, then check again.",
    ]
    both = cell_proposal("Turn the table.", [a.finding for a in mine])
    assert list(changes_needed([replace(mine[0], of_cell=(left, both)), *mine[1:]])) == []
    assert list(changes_needed(mine[:1])) == []
