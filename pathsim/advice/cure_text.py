"""The cure of one finding in words, as the terminal, the window and a page say it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pathsim.advice.advise import advise_on
from pathsim.advice.cell_proposal import CellProposal
from pathsim.advice.keyed_in import PoseConvention, keyed_in
from pathsim.advice.proposal import Advice, Proposal, in_numbers
from pathsim.advice.trial import Evaluator

TITLE = "What cures it"
#: What stands above changes that a program alone does not make.
OF_CELL = "A change of the cell cures it, not of the program alone:"


def cure_in_words(evaluator: Evaluator, number: int) -> tuple[str, ...]:
    """Look for the cure of a finding, by its number from 1, and return it in words.

    ``TITLE`` first where there is one; else the sentence that says why there is none, and what
    change of the cell cures it.
    """
    return advice_in_words(advise_on(evaluator, number))


def advice_in_words(mine: Advice) -> tuple[str, ...]:
    """Return the best of advice on one finding in words, see ``cure_in_words``."""
    if not mine.proposals:
        why = mine.never or nothing_found(mine)
        if not mine.of_cell:
            return tuple(filter(None, (why, tried_on_cell([mine]), *mine.not_tried_on_cell)))
        return (why, OF_CELL, *cell_in_words(mine.of_cell[0]), *mine.not_tried_on_cell)
    return (TITLE, *proposal_in_words(mine.proposals[0]))


def proposal_in_words(
    proposal: Proposal, convention: PoseConvention | None = None
) -> Iterator[str]:
    """Yield what to teach, what it changes in numbers, the evidence, and the values to key in.

    ``convention``: how poses are told; as ``PoseConvention`` has it when not given.
    """
    yield f"{proposal.kind}: {proposal.text}"
    yield f"{in_numbers(proposal)}."
    yield from proposal.evidence
    others = len(proposal.cures) - 1
    if others > 0:
        more = "another finding" if others == 1 else f"{others} other findings"
        yield f"It cures {more} too."
    for point in keyed_in(proposal.change.cell, proposal.change.points, convention):
        yield from point.words


def cell_in_words(
    proposal: CellProposal, convention: PoseConvention | None = None
) -> Iterator[str]:
    """Yield what to change of the cell, what it does in numbers, and the values to key in."""
    change = proposal.change
    yield f"{change.kind}: {change.text}"
    yield from proposal.evidence
    others = len(proposal.cures) - 1
    if others > 0:
        yield f"It cures {'another finding' if others == 1 else f'{others} other findings'} too."
    for point in keyed_in(change.cell, change.points, convention):
        yield from point.words


def tried_on_cell(advice: Iterable[Advice]) -> str:
    """Say which changes of the cell were tried without success; empty where none was."""
    tried = list(dict.fromkeys(words for one in advice for words in one.tried_on_cell))
    return f"Changes of the cell tried without success: {'; '.join(tried)}." if tried else ""


def nothing_found(advice: Advice) -> str:
    """Say what was tried for a finding without a proposal."""
    if not advice.tried:
        return (
            "Nothing was tried: no search here fits this move. That does not say that none helps."
        )
    tried = "; ".join(advice.tried)
    return f"Nothing was found that cures it and worsens nothing. Tried: {tried}."
