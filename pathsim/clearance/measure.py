"""Every piece against every body on every move."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pathsim.clearance.corner import corner_of
from pathsim.clearance.engine import Engine, MoveMeasure, Span
from pathsim.clearance.records import Clearance
from pathsim.clearance.rules import (
    Standing,
    Stretch,
    Zone,
    may_touch,
    pair_margin,
    pairs_to_measure,
    standing_things,
    stretches,
)
from pathsim.model import Cell, Piece
from pathsim.motion import MoveTrack, Trajectory


@dataclass(frozen=True, eq=False)
class PairClearance:
    """One pair on one stretch of a move.

    ``spans``: when it is nearer than ``margin``, or, if it touches, when it touches.
    """

    move: int
    piece: str
    body: str
    stretch: Stretch
    margin: float
    clearance: Clearance
    spans: tuple[Span, ...]


@dataclass(frozen=True, eq=False)
class MoveClearance:
    """All pairs of one move."""

    track: MoveTrack
    pairs: tuple[PairClearance, ...]

    @property
    def worst(self) -> PairClearance | None:
        """Pair with the least guaranteed clearance; None when nothing was measured."""
        if not self.pairs:
            return None

        def rank(pair: PairClearance) -> tuple[bool, float, float]:
            found = pair.clearance
            return (not found.touches, found.lower, found.upper)

        return min(self.pairs, key=rank)


def measure_moves(
    cell: Cell,
    trajectory: Trajectory,
    engine: Engine,
    progress: Callable[[str, float], None] | None = None,
) -> tuple[MoveClearance, ...]:
    """Measure all pairs of all moves. ``progress(text, share 0..1)`` is called in between."""
    things = standing_things(cell)
    total = max(len(trajectory.tracks), 1)
    results = []
    for track in trajectory.tracks:
        measure = engine.on(track)
        parts = stretches(cell, trajectory, track)
        pairs: list[PairClearance] = []
        wanted = pairs_to_measure(cell, track, things)
        for count, (piece, standing) in enumerate(wanted):
            if progress is not None:
                share = (track.index + count / len(wanted)) / total
                progress(f"move {track.number} of {total}: {piece.name}", share)
            pairs.extend(_pair(cell, track, measure, piece, standing, parts))
            pairs.extend(_corners(cell, trajectory, track, measure, (piece, standing)))
        results.append(MoveClearance(track, tuple(pairs)))
    if progress is not None:
        progress("done", 1.0)
    return tuple(results)


def _pair(
    cell: Cell,
    measured_on: MoveTrack,
    measure: MoveMeasure,
    piece: Piece,
    standing: Standing,
    parts: tuple[Stretch, ...],
) -> list[PairClearance]:
    """One pair on all stretches of a move."""
    results = []
    for part in parts:
        if may_touch(piece, standing, part):
            continue
        window = Span(part.start, part.end)
        margin = pair_margin(cell, measured_on, piece, part)
        # A clear pair could only get inside by crossing a surface, but one that touched before,
        # was allowed to touch, or starts after a break may lie inside without touching now.
        inside = measure.starts_inside(piece, standing, part.start)
        if inside:
            clearance = Clearance(0.0, 0.0, part.start, None, None, is_inside=True)
            spans: tuple[Span, ...] = (window,)
        else:
            clearance = measure.closest(piece, standing, window)
            spans = ()
            if clearance.touches:
                spans = measure.spans_below(piece, standing, window, 0.0)
            elif clearance.lower < margin:
                spans = measure.spans_below(piece, standing, window, margin)
        results.append(
            PairClearance(
                measured_on.number,
                piece.name,
                standing.name,
                part,
                margin,
                clearance,
                spans or _moment(clearance),
            )
        )
    return results


def _corners(
    cell: Cell,
    trajectory: Trajectory,
    track: MoveTrack,
    measure: MoveMeasure,
    pair: tuple[Piece, Standing],
) -> list[PairClearance]:
    """One pair in the rounded corners at the start and at the end of a move."""
    tracks, index = trajectory.tracks, track.index
    found = []
    for first in range(index + 1):
        if tracks[first].move.rounding <= 0:
            continue
        corner = corner_of(cell, tracks, first)
        if corner is None or index not in (first, corner.following):
            continue
        piece, standing = pair
        clearance = measure.rounds(piece, standing, corner)
        span = (corner.start, corner.time) if first == index else (corner.time, corner.end)
        part = Stretch(*span, Zone.AIR, wire_may_touch_part=False, corner=corner.point)
        margin = cell.margins.air
        near = clearance.touches or clearance.lower < margin
        spans = (Span(*span),) if near else _moment(clearance)
        found.append(
            PairClearance(track.number, piece.name, standing.name, part, margin, clearance, spans)
        )
    return found


def _moment(clearance: Clearance) -> tuple[Span, ...]:
    """Return the closest moment as a span, so that a finding always has a place."""
    return (Span(clearance.time, clearance.time),) if np.isfinite(clearance.upper) else ()
