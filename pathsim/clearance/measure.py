"""Every piece against every body on every move."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from pathsim.clearance.contact_rules import (
    OWN_CAP,
    Obstacle,
    Stretch,
    Zone,
    corner_margin,
    obstacles,
    own_margin,
    pairs_to_measure,
    scene_on,
    unknown_place,
)
from pathsim.clearance.contact_time import at_first_touch, contact_time
from pathsim.clearance.corner import RoundedCorner
from pathsim.clearance.engine import Engine, MoveMeasure, Pair, Span
from pathsim.clearance.joint_pairs import JoinedPairs, joined_pairs, own_pairs
from pathsim.clearance.narrowing import narrowed
from pathsim.clearance.queries import AskedPair, AskedPairs, queries_of
from pathsim.clearance.records import Clearance, Inner, Within
from pathsim.model import Cell, Piece
from pathsim.motion import MoveTrack, Trajectory
from pathsim.motion.corner import corner_of
from pathsim.records import FieldsOnly, without_collecting


@dataclass(frozen=True, eq=False)
class PairClearance:
    """One pair on one stretch of a move.

    ``spans``: when it is nearer than ``margin``, or, if it touches, when it is in contact;
    ``within``: that part of it in which one lies wholly within the other, and which.
    """

    move: int
    piece: str
    body: str
    stretch: Stretch
    margin: float
    clearance: Clearance
    spans: tuple[Span, ...]
    within: tuple[Within, ...] = ()

    def __repr__(self) -> str:
        found = f"{self.clearance.lower * 1e3:.3f} to {self.clearance.upper * 1e3:.3f} mm"
        found = "touches" if self.clearance.touches else found
        return f"PairClearance(move {self.move}, {self.piece!r} and {self.body!r}, {found})"

    def inner_and_outer(self, inner: Inner) -> tuple[str, str]:
        """Return the names of what lies within, and of what it lies within."""
        is_piece = inner is Inner.MOVING
        return (self.piece, self.body) if is_piece else (self.body, self.piece)


@dataclass(frozen=True, eq=False)
class MoveClearance(FieldsOnly):
    """All pairs of one move.

    ``own``: the arm and torch against the arm itself, which are only told apart where it gets
    narrow (``rules.OWN_CAP``). ``wire``: the wire against parts by a weld, where it comes near
    by its nature, so that only contact counts.
    """

    track: MoveTrack
    pairs: tuple[PairClearance, ...]
    own: tuple[PairClearance, ...] = ()
    wire: tuple[PairClearance, ...] = ()

    def __repr__(self) -> str:
        return f"MoveClearance(move {self.track.number}, {len(self.pairs)} pairs)"

    @cached_property
    def noteworthy(self) -> tuple[PairClearance, ...]:
        """All pairs with what stands; of the arm itself and the wire those that are too near."""
        own = (pair for pair in self.own if pair.clearance.lower < pair.margin)
        return (*self.pairs, *own, *(pair for pair in self.wire if pair.clearance.touches))

    @cached_property
    def doubtful(self) -> tuple[PairClearance, ...]:
        """Those of ``noteworthy`` of which anything has to be said; mostly none of thousands."""
        return tuple(
            pair
            for pair in self.noteworthy
            if pair.clearance.lower < pair.margin
            or pair.clearance.touches
            or pair.clearance.is_wide
        )

    @property
    def worst(self) -> PairClearance | None:
        """Pair with the least guaranteed clearance; None when nothing was measured."""
        if not self.noteworthy:
            return None

        def rank(pair: PairClearance) -> tuple[bool, float, float]:
            found = pair.clearance
            return (not found.touches, found.lower, found.upper)

        return min(self.noteworthy, key=rank)


class Questions(NamedTuple):
    """All that is asked of a program.

    ``things``: what stands; ``own``: pairs of the arm itself; ``joined``: what of them joints say.
    """

    things: tuple[Obstacle, ...]
    own: list[Pair]
    joined: JoinedPairs
    asked: AskedPairs


def all_questions(cell: Cell, trajectory: Trajectory) -> Questions:
    """Return all pairs on all moves, of the arm itself too."""
    things, joined = obstacles(cell), joined_pairs(cell, trajectory.tracks)
    own = [*own_pairs(cell), *joined.asked]
    return Questions(things, own, joined, queries_of(cell, trajectory, things, own))


def measure_moves(
    cell: Cell,
    trajectory: Trajectory,
    engine: Engine,
    progress: Callable[[str, float], None] | None = None,
) -> tuple[MoveClearance, ...]:
    """Measure all pairs of all moves. ``progress(text, share 0..1)`` is called in between.

    The engine gets all questions at once: it may answer them in any order.
    """
    things, own_things, joined, asked = all_questions(cell, trajectory)

    def answered(share: float) -> None:
        if progress is not None:
            progress(f"{len(trajectory.tracks)} moves: clearance", 0.9 * share)

    answered(0.0)
    found = narrowed(engine, asked, engine.min_distance(asked.queries, answered))
    measures = {track: engine.on(track) for track in trajectory.tracks}
    with without_collecting():
        answers, wires = _answers(engine, measures, asked, found, joined.inside)
    corners = corners_of(cell, trajectory, engine)
    scene: dict[tuple[tuple[bool, ...], int], list[Pair]] = {}
    results = []
    for track in trajectory.tracks:
        met = corners[track.index]
        moved = scene_on(cell, track)
        if moved not in scene:
            scene[moved] = pairs_to_measure(cell, track, things)
        for rounded, _ in met:
            rounded.look_at([*scene[moved], *own_things])
        pairs: list[PairClearance] = []
        for piece, standing in scene[moved]:
            pairs += answers[track.index, piece, standing]
            for one in met:
                margin = corner_margin(cell, piece) + unknown_place(piece, standing)
                pairs.append(in_corner(track, piece, standing, *one, margin))
        own: list[PairClearance] = []
        for piece, standing in own_things:
            own += answers[track.index, piece, standing]
            margin = own_margin(piece, standing)
            own += [in_corner(track, piece, standing, *one, margin) for one in met]
        if progress is not None:
            share = 0.9 + 0.1 * track.number / len(trajectory.tracks)
            progress(f"move {track.number} of {len(trajectory.tracks)}: when it is near", share)
        own += [_proved(track, pair) for pair in joined.proved]
        results.append(MoveClearance(track, tuple(pairs), tuple(own), tuple(wires[track.index])))
    if progress is not None:
        progress("done", 1.0)
    return tuple(results)


def _answers(
    engine: Engine,
    measures: Mapping[MoveTrack, MoveMeasure],
    asked: AskedPairs,
    found: Sequence[Clearance],
    inside: Mapping[Pair, Inner],
) -> tuple[_Answers, dict[int, list[PairClearance]]]:
    """Return what was found of each pair on each move, and of the wire by a weld on each.

    Nearly all pairs are beyond their caps all along. Of those there is nothing to ask, so that
    here they cost one record each.
    """
    answers: _Answers = defaultdict(list)
    wires: dict[int, list[PairClearance]] = defaultdict(list)
    queries, parts = asked.queries, asked.parts
    names = [(piece.name, standing.name) for piece, standing in queries.pairs]
    moves = [(track.number, track.index) for track, _ in queries.windows]
    swallowed = [inside.get(pair) for pair in queries.pairs]
    each = zip(queries.pair.tolist(), queries.window.tolist(), found, asked.margins.tolist(),
               asked.at_weld.tolist(), strict=True)  # fmt: skip
    for k, (pair, window, clearance, margin, at_weld) in enumerate(each):
        number, index = moves[window]
        inner = swallowed[pair]
        if inner is not None:
            one = _swallowed(asked[k], inner)
        elif math.isfinite(clearance.upper) or clearance.touches or clearance.lower < margin:
            one = _pair(engine, measures[queries.windows[window][0]], asked[k], clearance)
        else:
            piece, body = names[pair]
            one = PairClearance(number, piece, body, parts[window], margin, clearance, ())
        if at_weld:
            wires[index].append(one)
        else:
            answers[index, *queries.pairs[pair]].append(one)
    return answers, wires


#: By the move's index and the pair.
_Answers = dict[tuple[int, Piece, Obstacle], list["PairClearance"]]


def _pair(
    engine: Engine, measure: MoveMeasure, asked: AskedPair, clearance: Clearance
) -> PairClearance:
    """One pair on one stretch, with the spans in which it touches or is too near."""
    track, piece, standing, window = asked.question
    spans: tuple[Span, ...] = ()
    within: tuple[Within, ...] = ()
    if clearance.touches:
        spans, meeting, within = contact_time(measure, (piece, standing), window)
        clearance = at_first_touch(engine, track, (piece, standing), clearance, meeting)
        if clearance.inner is not None and not spans:  # a window without length
            spans = (window,)
    elif clearance.lower < asked.margin:
        spans = measure.intervals_below(piece, standing, window, asked.margin)
    spans = spans or _moment(clearance)
    return PairClearance(
        track.number, piece.name, standing.name, asked.part, asked.margin, clearance, spans, within
    )


def _swallowed(asked: AskedPair, inner: Inner) -> PairClearance:
    """One pair that a joint joins, of which one lies in the other over all of the program."""
    track, piece, standing, window = asked.question
    found = Clearance(0.0, 0.0, window.start, None, None, inner)
    within = (Within(window.start, window.end, inner),)
    return PairClearance(
        track.number, piece.name, standing.name, asked.part, asked.margin, found, (window,), within
    )


def _proved(track: MoveTrack, pair: Pair) -> PairClearance:
    """One pair that a joint joins, on a move where it is proved to be apart."""
    start, end = float(track.t[0]), float(track.t[-1])
    part = Stretch(start, end, Zone.AIR)
    found = Clearance(OWN_CAP, math.inf, start, None, None, is_capped=True)
    margin = own_margin(*pair)
    return PairClearance(track.number, pair[0].name, pair[1].name, part, margin, found, ())


def corners_of(
    cell: Cell, trajectory: Trajectory, engine: Engine
) -> list[list[tuple[RoundedCorner, Span]]]:
    """Return for each move the rounded corners that it has a part in, and when that is."""
    of_moves: list[list[tuple[RoundedCorner, Span]]] = [[] for _ in trajectory.tracks]
    for track in trajectory.tracks:
        corner = corner_of(cell, trajectory.tracks, track.index)
        if corner is not None:
            rounded = RoundedCorner(cell, engine, track, corner)
            of_moves[track.index].append((rounded, Span(corner.start, corner.time)))
            of_moves[corner.following].append((rounded, Span(corner.time, corner.end)))
    return of_moves


def in_corner(
    track: MoveTrack,
    piece: Piece,
    standing: Obstacle,
    rounded: RoundedCorner,
    window: Span,
    margin: float,
) -> PairClearance:
    """One pair in a rounded corner, of which ``window`` lies on this move."""
    clearance = rounded.clearance(piece, standing, margin)
    part = Stretch(*window, Zone.AIR, corner=rounded.corner.point)
    near = clearance.touches or clearance.lower < margin
    spans = (window,) if near else _moment(clearance)
    return PairClearance(track.number, piece.name, standing.name, part, margin, clearance, spans)


def _moment(clearance: Clearance) -> tuple[Span, ...]:
    """Return the closest moment as a span, so that a finding always has a place."""
    return (Span(clearance.time, clearance.time),) if math.isfinite(clearance.upper) else ()
