"""What of a program was not measured, in words for a sheet."""

from __future__ import annotations

from pathsim.check import CheckResult
from pathsim.result.words import guaranteed
from pathsim.units import percent


def is_nothing_measured(result: CheckResult) -> bool:
    """Tell whether no move has a clearance to anything that stands in the cell."""
    return all(guaranteed(move, result.cap) == "not checked" for move in result.moves)


def not_measured(result: CheckResult) -> tuple[str, ...]:
    """Name what should have been measured and was not; empty when all was."""
    cell, lines = result.cell, []
    if not cell.bodies:
        lines.append("the arm and the torch against anything, as the cell has no bodies")
    if cell.shapeless_links:
        names = ", ".join(cell.link_name(link) for link in cell.shapeless_links)
        lines.append(f"{names}, for want of a shape in the arm's description")
    lines += [
        f"the {bead.name} from move {bead.stands_from} on, for want of its size"
        for bead in cell.beads
        if bead.body is None and bead.stands_from <= len(result.moves)
    ]
    for move in result.moves:
        fault, number = move.track.fault, move.track.number
        if fault is not None:
            whole = "" if fault.share == 0 else f" from {percent(fault.share)} on"
            lines.append(f"move {number}{whole}, as the arm cannot be moved further")
        elif move.track.sure_until is not None:
            share = move.track.share(move.track.sure_until)
            whole = "" if share <= 0 else f" from {percent(share)} on"
            lines.append(f"move {number}{whole} in the other posture that the arm may take there")
        elif cell.bodies and guaranteed(move, result.cap) == "not checked":
            lines.append(f"move {number}")
    return tuple(lines)
