"""Every piece against every body on every move."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from pathsim.clearance.answered_pairs import AnsweredPairs
from pathsim.clearance.asked_pairs import AskedPair, AskedPairs
from pathsim.clearance.contact_rules import (
    Stretch,
    Zone,
    corner_margin,
    own_margin,
    pairs_to_measure,
    scene_on,
    unknown_place,
)
from pathsim.clearance.contact_time import at_first_touch, contact_time
from pathsim.clearance.corner import RoundedCorner
from pathsim.clearance.engine import Engine, MoveMeasure, Pair, Span
from pathsim.clearance.joint_pairs import JoinedPairs, joined_pairs, own_pairs
from pathsim.clearance.move_clearance import MoveClearance
from pathsim.clearance.narrowing import narrowed
from pathsim.clearance.obstacle import OWN_CAP, Obstacle, obstacles
from pathsim.clearance.pair_table import PairClearance
from pathsim.clearance.queries import queries_of
from pathsim.clearance.records import Clearance, Inner, Within
from pathsim.model import Cell, Piece
from pathsim.motion import MoveTrack, Trajectory
from pathsim.motion.corner import corner_of
from pathsim.records import without_collecting


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

    def look_closer(one: AskedPair, clearance: Clearance) -> PairClearance:
        return _pair(measures[one.question.track], one, clearance)

    with without_collecting():
        answers = AnsweredPairs(asked, found, joined.inside, look_closer, _swallowed)
    corners = corners_of(cell, trajectory, engine)
    scene: dict[tuple[tuple[bool, ...], int], Sequence[Pair]] = {}
    results = []
    for track in trajectory.tracks:
        met = corners[track.index]
        moved = scene_on(cell, track)
        if moved not in scene:
            scene[moved] = pairs_to_measure(cell, track, things)
        for rounded, _ in met:
            rounded.look_at([*scene[moved], *own_things])
        pairs: Sequence[PairClearance] = answers.of(track, scene[moved])
        proved = [_proved(track, pair) for pair in joined.proved]
        own: Sequence[PairClearance] = answers.of(track, own_things, proved)
        if met:
            pairs, own = _with_corners(cell, track, answers, scene[moved], own_things, met)
            own += proved
        if progress is not None:
            share = 0.9 + 0.1 * track.number / len(trajectory.tracks)
            progress(f"move {track.number} of {len(trajectory.tracks)}: when it is near", share)
        results.append(MoveClearance(track, pairs, own, answers.wires(track)))
    answers.require_all_told()
    if progress is not None:
        progress("done", 1.0)
    return tuple(results)


def _with_corners(
    cell: Cell,
    track: MoveTrack,
    answers: AnsweredPairs,
    scene: Sequence[Pair],
    own_things: Sequence[Pair],
    met: Sequence[tuple[RoundedCorner, Span]],
) -> tuple[list[PairClearance], list[PairClearance]]:
    """Return each pair on a move and, behind it, in the rounded corners that it has a part in."""
    pairs: list[PairClearance] = []
    for (piece, standing), found in zip(scene, answers.of_each(track, scene), strict=True):
        pairs += found
        for one in met:
            margin = corner_margin(cell, piece) + unknown_place(piece, standing)
            pairs.append(in_corner(track, piece, standing, *one, margin))
    own: list[PairClearance] = []
    each_own = answers.of_each(track, own_things)
    for (piece, standing), found in zip(own_things, each_own, strict=True):
        own += found
        margin = own_margin(piece, standing)
        own += [in_corner(track, piece, standing, *one, margin) for one in met]
    return pairs, own


def _pair(measure: MoveMeasure, asked: AskedPair, clearance: Clearance) -> PairClearance:
    """One pair on one stretch, with the spans in which it touches or is too near."""
    track, piece, standing, window = asked.question
    spans: tuple[Span, ...] = ()
    within: tuple[Within, ...] = ()
    if clearance.touches:
        spans, meeting, within = contact_time(measure, (piece, standing), window)
        clearance = at_first_touch(measure, (piece, standing), clearance, meeting)
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
