"""Numbers of the seams on a sheet: what is the same for several seams stands once."""

from __future__ import annotations

from pathsim.check import CheckResult
from pathsim.findings.finding import upper_move_name


def seam_numbers(result: CheckResult) -> tuple[str, ...]:
    """Return a line for all that describes seams and program; alike ones of several moves once."""
    tracks = result.trajectory.tracks
    moves: dict[str, list[str]] = {}
    for seam in result.seams:
        if seam.move is None:
            moves.setdefault(seam.text, [])
            continue
        track = tracks[seam.move - 1]
        said = seam.text.removeprefix(f"{upper_move_name(track)}: ")
        moves.setdefault(said, []).append(str(seam.move))
    return tuple(
        f"Move{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}: {said}" if numbers else said
        for said, numbers in moves.items()
    )
