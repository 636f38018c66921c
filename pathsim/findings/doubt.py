"""A doubt of the model itself, and what it makes of all that follows from it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from pathsim.findings.finding import Finding
from pathsim.findings.kinds import FindingKind

#: Kinds that follow from a wrong size or place: each is told once with its cause.
_FOLLOWS = (FindingKind.CONTACT, FindingKind.NEAR_HIT, FindingKind.NOT_NARROWED)
#: So many findings of one cause are told as one.
_SEVERAL = 2
_MOST_NAMES = 3


@dataclass(frozen=True)
class Doubt:
    """A finding about the model, and the names of the bodies and pieces that it doubts."""

    finding: Finding
    bodies: frozenset[str] = frozenset()
    pieces: frozenset[str] = frozenset()

    def explains(self, finding: Finding) -> bool:
        """Tell whether a finding is about what is doubted."""
        return finding.kind in _FOLLOWS and (
            finding.body in self.bodies
            or finding.piece in self.bodies  # it turns with the table
            or finding.piece in self.pieces
        )


def grouped(doubts: Iterable[Doubt], findings: list[Finding]) -> list[Finding]:
    """Put the findings that a doubt explains into the doubt's own, where they are several.

    It is as grave as the gravest of them, and names the moves and what meets there. All numbers
    of all pairs stay in the result's moves. What nothing explains stays as it is.
    """
    told: list[Finding] = []
    left = findings
    for doubt in doubts:
        explained = [finding for finding in left if doubt.explains(finding)]
        if len(explained) < _SEVERAL:
            told.append(doubt.finding)
            continue
        left = [finding for finding in left if not doubt.explains(finding)]
        told.append(_together(doubt, explained))
    return [*told, *left]


def _together(doubt: Doubt, explained: list[Finding]) -> Finding:
    touching = [f for f in explained if f.kind is FindingKind.CONTACT]
    near = [f for f in explained if f.kind is not FindingKind.CONTACT]
    said = [doubt.finding.text]
    if touching:
        said.append(f"As it is, it touches {_what(doubt, touching)} in {_where(touching)}.")
    if near:
        said.append(f"It comes too near to {_what(doubt, near)} in {_where(near)}.")
    moves = sorted({f.move for f in explained if f.move is not None})
    numbers = {
        "contacts": float(len(touching)),
        "near": float(len(near)),
        "contact seconds": sum(span.end - span.start for f in touching for span in f.spans),
    }
    if near:
        numbers["clearance"] = min(f.numbers.get("clearance", 0.0) for f in near)
    return replace(
        doubt.finding,
        level=min((doubt.finding.level, *(f.level for f in explained)), key=lambda lv: lv.rank),
        text=" ".join(said),
        moves=tuple(moves),
        numbers={**doubt.finding.numbers, **numbers},
        explains=tuple(explained),
    )


def _what(doubt: Doubt, findings: list[Finding]) -> str:
    """Name what meets the doubted thing: ``link 2, neck, nozzle and 3 more``."""
    names: list[str] = []
    for finding in findings:
        is_body = finding.body in doubt.bodies
        other = finding.piece if is_body else finding.body
        names += [other] if other is not None and other not in names else []
    more = len(names) - _MOST_NAMES
    if more > 1:
        return f"{', '.join(names[:_MOST_NAMES])} and {more} more"
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _where(findings: list[Finding]) -> str:
    return moves_in_words(sorted({f.move for f in findings if f.move is not None}))


def moves_in_words(moves: list[int]) -> str:
    """Say numbers of moves: ``move 4``, ``moves 1 to 5``, ``moves 1, 3 and 4``."""
    if len(moves) == 1:
        return f"move {moves[0]}"
    if len(moves) > 2 and moves == list(range(moves[0], moves[-1] + 1)):
        return f"moves {moves[0]} to {moves[-1]}"
    return f"moves {', '.join(map(str, moves[:-1]))} and {moves[-1]}"
