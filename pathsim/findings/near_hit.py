"""Clear, but by less than the margin asked for."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.clearance import MoveClearance, PairClearance
from pathsim.findings.detour import straight_instead
from pathsim.findings.finding import (
    Evidence,
    Finding,
    Level,
    Straight,
    place_in_move,
    upper_move_name,
)
from pathsim.findings.grouping import doubtful_pairs
from pathsim.findings.kinds import FindingKind
from pathsim.findings.uncertain_places import off_by_name
from pathsim.model import Cell
from pathsim.units import guaranteed_millimetres, millimetres, percent, short_millimetres


def near_hits(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each pair that comes nearer than its margin and does not touch."""
    for move in evidence.moves:
        for group in doubtful_pairs(move):
            if any(pair.clearance.touches for pair in group):
                continue
            near = [pair for pair in group if pair.clearance.lower < pair.margin]
            if near:
                yield _finding(evidence.cell, move, near, straight_instead(evidence, move.track))


def _of_which(cell: Cell, pair: PairClearance) -> str:
    """Say how much of a margin is for how well the place of its bodies is known."""
    known = _known_to(cell, pair)
    if not known:
        return ""
    names = (pair.piece, pair.body)
    places = sum(body.known_to for body in cell.bodies if body.name in names)
    what = "its place is known" if places else "its mesh is drawn"
    return f", of which {millimetres(known)} for how well {what}"


def _known_to(cell: Cell, pair: PairClearance) -> float:
    """How far the surfaces of a pair may be off their places together, m."""
    off = off_by_name(cell)
    return off.get(pair.piece, 0.0) + off.get(pair.body, 0.0)


def _finding(
    cell: Cell, move: MoveClearance, near: list[PairClearance], straight: Straight | None
) -> Finding:
    track = move.track
    worst = min(near, key=lambda pair: pair.clearance.lower - pair.margin)
    spans = tuple(span for pair in near for span in pair.spans)
    share = percent(track.share(worst.clearance.time))
    kept = guaranteed_millimetres(worst.clearance.lower)
    text = (
        f"{worst.piece[:1].upper()}{worst.piece[1:]} to {worst.body}: {kept} guaranteed, margin "
        f"{short_millimetres(worst.margin)}{_of_which(cell, worst)}. {upper_move_name(track)}"
    )
    if len(spans) > 1 or spans[0].end > spans[0].start:
        text += f", too near {place_in_move(track, spans)}"
    text += f", closest at {share}"
    if worst.stretch.corner:
        text += f", if the arm rounds '{worst.stretch.corner}' as far as it may"
    text += "."
    if worst.clearance.lower < _known_to(cell, worst):
        text += " It may touch: place it by touch first."
    return Finding(
        Level.WATCH,
        FindingKind.NEAR_HIT,
        text,
        track.number,
        worst.clearance.time,
        spans,
        worst.piece,
        worst.body,
        {"clearance": worst.clearance.lower, "margin": worst.margin},
        straight,
    )
