"""The cure of one finding in words, as the terminal, the window and a page say it."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.advice.advise import advise_on
from pathsim.advice.keyed_in import PoseConvention, keyed_in
from pathsim.advice.proposal import Advice, Proposal, in_numbers
from pathsim.advice.trial import Evaluator

TITLE = "What cures it"


def cure_in_words(evaluator: Evaluator, number: int) -> tuple[str, ...]:
    """Look for the cure of a finding, by its number from 1, and return it in words.

    ``TITLE`` first where there is one; else one sentence that says why there is none.
    """
    mine = advise_on(evaluator, number)
    if not mine.proposals:
        return (mine.never or nothing_found(mine),)
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
    for point in keyed_in(proposal.change.cell, proposal.change, convention):
        yield from point.words


def nothing_found(advice: Advice) -> str:
    """Say what was tried for a finding without a proposal."""
    if not advice.tried:
        return (
            "Nothing was tried: no search here fits this move. That does not say that none helps."
        )
    tried = "; ".join(advice.tried)
    return f"Nothing was found that cures it and worsens nothing. Tried: {tried}."
