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
_NONE = "Nothing was found that cures it and worsens nothing."
#: Lines that belong together: the first with a mark before it, the others below.
Paragraph = tuple[str, ...]


def blocks(advice: Iterable[Advice]) -> list[tuple[Advice, ...]]:
    """Return advice by move, in the order of the findings; what is about no move stands alone."""
    found: dict[Hashable, list[Advice]] = {}
    for one in advice:
        key = ("finding", one.number) if one.finding.move is None else ("move", one.finding.move)
        found.setdefault(key, []).append(one)
    return [tuple(block) for block in found.values()]


class Said:
    """What was said of findings before: the same cure, or the same long list, is told once."""

    def __init__(self) -> None:
        self._first: dict[Hashable, int] = {}

    def of_finding(self, what: Hashable, number: int) -> int | None:
        """Return the finding of which this was said already; None where this is the first."""
        first = self._first.setdefault(what, number)
        return None if first == number else first


def block_in_words(
    block: Sequence[Advice], convention: PoseConvention | None = None, said: Said | None = None
) -> Iterator[Paragraph]:
    """Yield the paragraphs of a block, each sentence once; findings are named where it matters.

    ``said``: of the blocks before; what was told there is named by its finding.
    """
    said = said or Said()
    number = block[0].number
    told: Iterable[str]
    for never, mine in _grouped(block, lambda one: one.never):
        if never:
            yield (_of(mine, block) + never,)
    for proposal in _once(p for one in block for p in one.proposals):
        again = said.of_finding(proposal.change, number)
        told = proposal_in_words(proposal, convention)
        told = told if again is None else _again(proposal, again)
        yield (*told, *_which(proposal, block))
    failed = [one for one in block if not one.proposals and not one.never]
    for none, mine in _grouped(failed, nothing_found):
        again = said.of_finding(none, number) if mine[0].tried else None
        what = none if again is None else f"{_NONE} The same was tried as for finding {again}."
        yield (_of(mine, block) + what,)
    known = {words for one in failed for words in one.tried}
    tried = dict.fromkeys(words for one in block if one.proposals for words in one.tried)
    left = [words for words in tried if words not in known]
    if left:
        yield (f"Tried without success: {'; '.join(left)}.",)
    of_cell = _once(p for one in block for p in one.of_cell)
    if of_cell:
        yield (OF_CELL,)
    for change in of_cell:
        again = said.of_finding(change.change, number)
        told = cell_in_words(change, convention) if again is None else _again(change, again)
        yield (*told, *_which(change, block))
    on_cell = tried_on_cell(block)
    if on_cell:
        again = said.of_finding(on_cell, number)
        if again is not None:
            on_cell = f"Changes of the cell tried without success: the same as for finding {again}."
        yield (on_cell,)
    for why in dict.fromkeys(words for one in block for words in one.not_tried_on_cell):
        if said.of_finding(why, number) is None:
            yield (why,)


def _again(proposal: Proposal | CellProposal, number: int) -> Paragraph:
    """Name a cure that was told in full before, by what it is and where it was told."""
    if isinstance(proposal, CellProposal):
        kind, text = proposal.change.kind, proposal.change.text
        return (f"{kind}: {text} It is the same change as for finding {number}.",)
    return (f"{proposal.kind}: {proposal.text} It is the same change as for finding {number}.",)


def changes_needed(advice: Sequence[Advice]) -> Iterator[str]:
    """Say that several changes of the cell have to be made, where no single one cures all.

    Each was checked alone: nobody has looked at them together.
    """
    mine = [one for one in advice if one.of_cell and not one.proposals]
    if any(all(one.finding in p.cures for one in mine) for one in mine for p in one.of_cell):
        return
    needed: dict[CellProposal, list[int]] = {}
    for one in mine:
        known = next((p for p in needed if one.finding in p.cures), None)
        needed.setdefault(known or one.of_cell[0], []).append(one.number)
    if len(needed) < 2:
        return
    yield "No one change of the cell cures all of these. Needed are:"
    for proposal, numbers in needed.items():
        which = _numbers(numbers)
        yield f"{which}: {proposal.change.text}"
    yield "Each was checked alone. Make them all, then check again."


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
