"""Something touches, or cannot be told from touching."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from pathsim.clearance import MoveClearance, PairClearance, Span
from pathsim.clearance.contact_rules import Stretch
from pathsim.clearance.records import Inner
from pathsim.findings.detour import cause, straight_instead
from pathsim.findings.finding import Evidence, Finding, Level, Straight, move_name, place_in_move
from pathsim.findings.grouping import doubtful_pairs, going_on, spans_of
from pathsim.findings.kinds import FindingKind
from pathsim.findings.touch_search import finds_first
from pathsim.model import Cell
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.units import millimetres


def contacts(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each pair that touches within a move."""
    for move in evidence.moves:
        for group in doubtful_pairs(move):
            touching = [pair for pair in group if pair.clearance.touches]
            if touching:
                straight = straight_instead(evidence, move.track)
                first = finds_first(evidence, move.track, touching)
                yield _finding(evidence.cell, move, touching, straight, first)


def _finding(
    cell: Cell,
    move: MoveClearance,
    touching: list[PairClearance],
    straight: Straight | None,
    first: str,
) -> Finding:
    track = move.track
    spans = spans_of(touching)
    worst = min(touching, key=lambda pair: (not pair.clearance.is_inside, pair.clearance.upper))
    who = f"The {worst.piece}"
    where = f"the {worst.body}"
    when = place_in_move(track, spans)
    if worst.clearance.inner is not None:
        inner, outer = worst.inner_and_outer(worst.clearance.inner)
        text = f"The {inner} lies inside the {outer}, {when} of {move_name(track)}."
    elif worst.clearance.upper > PATH_ERROR:  # nearer than that is contact to any eye
        text = (
            f"{who} comes so close to {where} that it cannot be told from touching, "
            f"{when} of {move_name(track)}."
        )
    else:
        text = f"{who} touches {where} {when} of {move_name(track)}.{_swallowed(track, touching)}"
    text += _as_drawn(cell, worst.body)
    text += _what_may(cell, [pair.stretch for pair in touching if pair in move.wire])
    if all(pair.stretch.corner for pair in touching):
        point = worst.stretch.corner
        text = (
            text[:-1] + f", if the arm rounds '{point}' as far as it may; the sharp corner clears."
        )
    return Finding(
        Level.STOP,
        FindingKind.CONTACT,
        text + first + cause(cell, track, worst, straight),
        track.number,
        worst.clearance.time,
        spans,
        worst.piece,
        worst.body,
        {"clearance": 0.0, "times": float(len(spans))},
        straight,
    )


def _as_drawn(cell: Cell, name: str) -> str:
    """Say of a bead how high it is drawn: larger than it comes out, so that it holds it."""
    body = next((bead.body for bead in cell.beads if bead.name == name), None)
    if body is None:
        return ""
    return f" It is drawn {millimetres(body.bead_top)} high, larger than it comes out."


def _what_may(cell: Cell, parts: Sequence[Stretch]) -> str:
    """Say how much may touch of what comes near there by its nature; ``parts``: where it did."""
    wants = next((part.wants for part in parts if part.wants is not None), None)
    if wants is not None and not wants.is_search:
        depth = millimetres(wants.reach)
        return f" At this station it may only within {depth} of the point inside."
    end = max((part.touching_end for part in parts), default=0.0)
    if wants is not None and not end:
        return f" It may only on the search and within {millimetres(wants.reach)} of its end."
    if not end:
        return ""
    where = "By the weld" if wants is None else "On a search"
    length = millimetres(min(end, cell.torch.wire_length))
    return f" {where} only the wire's last {length} may touch."


def _swallowed(track: MoveTrack, touching: list[PairClearance]) -> str:
    """Say when one lies wholly inside the other meanwhile; empty where it never does."""
    said = []
    for inner in Inner:
        spans = going_on(
            Span(one.start, one.end)
            for pair in touching
            for one in pair.within
            if one.inner is inner
        )
        if spans:
            name, outer = touching[0].inner_and_outer(inner)
            when = place_in_move(track, spans)
            said.append(f" The {name} is wholly inside the {outer} {when}.")
    return "".join(said)
