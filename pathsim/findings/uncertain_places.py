"""Bodies whose place is only known so well, and what that does to their margins."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell
from pathsim.units import millimetres


def uncertain_places(evidence: Evidence) -> Iterator[Finding]:
    """Say once for all bodies that are known alike how much wider their margins are."""
    alike: dict[float, list[str]] = {}
    for body in evidence.cell.bodies:
        if body.known_to > 0:
            alike.setdefault(body.known_to, []).append(body.name)
    for known_to, names in sorted(alike.items(), reverse=True):
        text = (
            f"{', '.join(names)}: place known to {millimetres(known_to)}. Every margin to "
            f"{'it' if len(names) == 1 else 'them'} is {millimetres(known_to)} wider; near-hits "
            "count from there."
        )
        welded = [one for one in names if one in _welded(evidence)]
        if welded:
            text += (
                f" A seam on {', '.join(welded)} may be off its joint by as much: no margin "
                "covers that. Touch the seam's ends."
            )
        name = names[0] if len(names) == 1 else None
        numbers = {"known": known_to}
        yield Finding(Level.NOTE, FindingKind.PLACE_UNCERTAIN, text, body=name, numbers=numbers)
    drawn: dict[float, list[str]] = {}
    for name, drawn_to in _drawn(evidence.cell):
        if drawn_to > 0:
            drawn.setdefault(drawn_to, []).append(name)
    for drawn_to, names in sorted(drawn.items(), reverse=True):
        off = millimetres(drawn_to)
        it = "it" if len(names) == 1 else "them"
        text = f"{', '.join(names)}: drawn to {off}. Every margin to {it} is {off} wider."
        numbers = {"known": drawn_to}
        name = names[0] if len(names) == 1 else None
        yield Finding(Level.NOTE, FindingKind.PLACE_UNCERTAIN, text, body=name, numbers=numbers)


def off_by_name(cell: Cell) -> dict[str, float]:
    """How far the surface of each body, link and piece of the torch may be off its place, m."""
    off = {piece.name: piece.drawn_to for piece in cell.arm_pieces}
    off[cell.link_name(0)] = cell.link_drawn_to(0)
    return off | {body.name: body.off_by for body in cell.bodies}


def _drawn(cell: Cell) -> Iterator[tuple[str, float]]:
    """Give all that has a mesh, and how far that may be off the true surface, m."""
    yield from ((body.name, body.drawn_to) for body in cell.bodies)
    yield cell.link_name(0), cell.link_drawn_to(0)
    yield from ((piece.name, piece.drawn_to) for piece in cell.arm_pieces)


def _welded(evidence: Evidence) -> set[str]:
    """Names of the parts that some seam lies on."""
    return {
        place.part
        for seam in evidence.seam_places
        for place in (seam.least, seam.most, seam.start, seam.end)
        if place is not None
    }
