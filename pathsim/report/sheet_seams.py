"""Numbers of the seams in words: what is the same for several seams stands once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from pathsim.check import CheckResult
from pathsim.findings import Finding
from pathsim.findings.finding import upper_move_name
from pathsim.findings.kinds import FindingKind

#: Said once, however many seams there are.
LAST_WORD = "Your welding procedure has the last word."


def seam_numbers(result: CheckResult) -> tuple[str, ...]:
    """Return a line for all that describes seams and program; alike ones of several moves once."""
    return in_words(result, result.seams)


def in_words(result: CheckResult, seams: Iterable[Finding]) -> tuple[str, ...]:
    """Return a line for some of what describes seams; who has the last word ends them."""
    seams = tuple(seams)
    tracks = result.trajectory.tracks
    moves: dict[str, list[str]] = {}
    for seam in seams:
        if seam.move is None:
            moves.setdefault(seam.text, [])
            continue
        track = tracks[seam.move - 1]
        said = seam.text.removeprefix(f"{upper_move_name(track)}: ")
        moves.setdefault(said, []).append(str(seam.move))
    last = (LAST_WORD,) if any(seam.kind is FindingKind.PROCESS for seam in seams) else ()
    return (*_lines(moves), *last)


def _lines(moves: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    return tuple(
        f"Move{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}: {said}" if numbers else said
        for said, numbers in moves.items()
    )
