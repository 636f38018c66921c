"""Advice put together for a move: what is said once of all that was found on it."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from typing import TypeVar

from pathsim.advice.cell_proposal import CellProposal
from pathsim.advice.cure_text import (
    OF_CELL,
    cell_in_words,
    nothing_found,
    proposal_in_words,
    tried_on_cell,
)
from pathsim.advice.keyed_in import PoseConvention
from pathsim.advice.proposal import Advice, Proposal

One = TypeVar("One")
#: Lines that belong together: the first with a mark before it, the others below.
Paragraph = tuple[str, ...]


def blocks(advice: Iterable[Advice]) -> list[tuple[Advice, ...]]:
    """Return advice by move, in the order of the findings; what is about no move stands alone."""
    found: dict[Hashable, list[Advice]] = {}
    for one in advice:
        key = ("finding", one.number) if one.finding.move is None else ("move", one.finding.move)
        found.setdefault(key, []).append(one)
    return [tuple(block) for block in found.values()]


def block_in_words(
    block: Sequence[Advice], convention: PoseConvention | None = None
) -> Iterator[Paragraph]:
    """Yield the paragraphs of a block, each sentence once; findings are named where it matters."""
    for never, mine in _grouped(block, lambda one: one.never):
        if never:
            yield (_of(mine, block) + never,)
    for proposal in _once(p for one in block for p in one.proposals):
        yield (*proposal_in_words(proposal, convention), *_which(proposal, block))
    failed = [one for one in block if not one.proposals and not one.never]
    for words, mine in _grouped(failed, nothing_found):
        yield (_of(mine, block) + words,)
    tried = list(dict.fromkeys(words for one in block if one.proposals for words in one.tried))
    if tried:
        yield (f"Tried without success: {'; '.join(tried)}.",)
    of_cell = _once(p for one in block for p in one.of_cell)
    if of_cell:
        yield (OF_CELL,)
    for cell_proposal in of_cell:
        yield (*cell_in_words(cell_proposal, convention), *_which(cell_proposal, block))
    words = tried_on_cell(block)
    if words:
        yield (words,)


def _once(proposals: Iterable[One]) -> list[One]:
    """Return proposals, one for each change, best first."""
    changes = {p.change: p for p in reversed(list(proposals))}  # type: ignore[attr-defined]
    return sorted(changes.values(), key=lambda p: p.rank)  # type: ignore[attr-defined]


def _grouped(
    block: Sequence[Advice], words: Callable[[Advice], str]
) -> list[tuple[str, list[Advice]]]:
    """Return what is said, each once, with the advice of which it is said."""
    found: dict[str, list[Advice]] = {}
    for one in block:
        found.setdefault(words(one), []).append(one)
    return list(found.items())


def _of(mine: Sequence[Advice], block: Sequence[Advice]) -> str:
    """Name the findings that a sentence is about, where it is not about all of the block."""
    if len(mine) == len(block):
        return ""
    return f"{_numbers([one.number for one in mine])}: "


def _which(proposal: Proposal | CellProposal, block: Sequence[Advice]) -> Paragraph:
    """Say which findings of a block a proposal cures, where it does not cure them all."""
    cured = [one.number for one in block if one.finding in proposal.cures]
    if len(cured) == len(block):
        return ()
    return (f"Of these findings it cures {_listed(cured)}.",)


def _numbers(numbers: Sequence[int]) -> str:
    return f"Finding{'s' if len(numbers) > 1 else ''} {_listed(numbers)}"


def _listed(numbers: Sequence[int]) -> str:
    *most, last = map(str, numbers)
    return f"{', '.join(most)} and {last}" if most else last
