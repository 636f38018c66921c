"""Which moves of a sheet are marked, and what has to be cured before a program is run at all."""

from __future__ import annotations

from pathsim.check import CheckResult
from pathsim.findings import Finding, Level


def levels_of_moves(result: CheckResult) -> dict[int, Level]:
    """Return the gravest level of each move, stop or watch, by its number.

    By every finding that names the move, and by what was measured on it: a move that touches or
    comes nearer than its margin is marked, whichever findings were made one.
    """
    found: dict[int, Level] = {}

    def mark(number: int, level: Level) -> None:
        if level.at_least(Level.WATCH) and level.at_least(found.get(number, Level.NOTE)):
            found[number] = level

    for finding in result.findings:
        about = finding.moves if finding.move is None else (finding.move, *finding.moves)
        for number in about:
            mark(number, finding.level)
    for move in result.moves:
        if move.worst is not None and move.worst.clearance.touches:
            mark(move.track.number, Level.STOP)
        elif any(pair.clearance.lower < pair.margin for pair in move.noteworthy):
            mark(move.track.number, Level.WATCH)
    return found


def doubts(result: CheckResult) -> tuple[Finding, ...]:
    """Return the findings about no move: doubts about the model that all else rests on."""
    return tuple(finding for finding in result.findings if finding.move is None)


def to_cure(result: CheckResult) -> tuple[str, ...]:
    """Return what stands in the place of the boxes where a program must not be run."""
    numbers: dict[str, list[str]] = {}
    for number, finding in enumerate(result.findings, start=1):
        if finding.level is Level.STOP:
            where = "The model" if finding.move is None else f"Move {finding.move}"
            numbers.setdefault(f"{where}, {finding.kind}", []).append(str(number))
    lines = [
        f"{what}: finding{'s' if len(found) > 1 else ''} {', '.join(found)} of 'pathsim check'"
        for what, found in numbers.items()
    ]
    lines.append(
        "'pathsim explain' with that number says why, and what cures it. Then check again and "
        "print a new sheet"
    )
    return tuple(lines)


def counted(result: CheckResult) -> str:
    """Say how many findings the check has, all of which stand on the sheet."""
    counts = [(sum(f.level is level for f in result.findings), level) for level in Level]
    said = ", ".join(f"{count} {level}" for count, level in counts if count)
    if not said:
        return "The check has no findings"
    total = len(result.findings)
    all_of = "The 1 finding" if total == 1 else f"All {total} findings"
    stands = "stands" if total == 1 else "stand"
    return f"{all_of} of the check {stands} on this sheet: {said}"
