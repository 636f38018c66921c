"""What a program asks: all pairs on all windows of all moves, and the margin of each.

A program asks hundreds of queries about few pairs on few windows. Pairs and windows are kept once
and numbered; queries are two numbers each, made, sorted and answered without a record for each.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from pathsim.clearance.asked_pairs import AskedPairs
from pathsim.clearance.contact_rules import (
    Stretch,
    Zone,
    are_wire_and_part,
    pairs_to_measure,
    scene_on,
)
from pathsim.clearance.engine import Pair, Queries, Span, Window
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.stretches import (
    bead_stretches,
    beads_lain_on,
    stretches,
    wire_asked,
    wire_stretches,
)
from pathsim.clearance.wanted_stretches import meetings_on
from pathsim.model import Cell
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import BoolArray


def queries_of(
    cell: Cell,
    trajectory: Trajectory,
    things: tuple[Obstacle, ...],
    own: Sequence[Pair],
    tracks: Sequence[MoveTrack] | None = None,
) -> AskedPairs:
    """Return all pairs on all stretches of moves, of the wire what must not touch there.

    ``tracks``: of these moves of the trajectory alone; of all when not given. The arm is asked
    about against itself on whole moves.

    A clear pair could only get inside by crossing a surface, but one that touched before, was
    allowed to touch, or starts after a break may lie inside without touching now: that is why
    each stretch is asked about, and its answer tells what lies inside at its start.
    """
    asking = _Asking(cell, things)
    asking.ask(trajectory, own, tracks)
    return asking.asked()


def queries_of_each(
    cell: Cell,
    things: tuple[Obstacle, ...],
    wanted: Sequence[tuple[Trajectory, Sequence[Pair], Sequence[MoveTrack]]],
) -> tuple[AskedPairs, list[int]]:
    """Return what ``queries_of`` does of several trajectories, as one, and where each begins.

    ``wanted``: each with pairs of the arm itself, and the moves of it that are asked about. Of n
    of them n + 1 places, the last one behind all.
    """
    asking, first = _Asking(cell, things), [0]
    for trajectory, own, tracks in wanted:
        asking.ask(trajectory, own, tracks)
        first.append(asking.count)
    return asking.asked(), first


class _Asking:
    """Questions about a cell's moves as they come together, each pair and window numbered once."""

    def __init__(self, cell: Cell, things: tuple[Obstacle, ...]) -> None:
        self._cell, self._things = cell, things
        self.count = 0
        self._numbers: dict[Pair, int] = {}
        self._scene: dict[tuple[tuple[bool, ...], int], _Scene] = {}
        self._patterns: dict[tuple[object, ...], _Pattern] = {}
        self._windows: list[Window] = []
        self._parts: list[Stretch] = []
        self._asked: list[_Pattern] = []

    def asked(self) -> AskedPairs:
        """Return all of them."""
        none = np.zeros(0, np.int64)
        each = self._asked or [_Pattern(none, none, np.zeros(0, bool))]
        pair, window, is_own = map(np.concatenate, zip(*each, strict=True))
        queries = Queries(list(self._numbers), self._windows, pair, window)
        return AskedPairs(self._cell, queries, self._parts, is_own)

    def ask(
        self, trajectory: Trajectory, own: Sequence[Pair], tracks: Sequence[MoveTrack] | None
    ) -> None:
        """Ask about moves of a trajectory, all of them if ``tracks`` is None."""
        own_pair = self._numbers_of(own)
        for track in trajectory.tracks if tracks is None else tracks:
            of_move = stretches(self._cell, trajectory, track)
            found, each = self._on_move(trajectory, track, of_move, own_pair)
            pair, window, is_own = found
            self._asked.append(_Pattern(pair, window + len(self._parts), is_own))
            self.count += len(pair)
            whole = Stretch(float(track.t[0]), float(track.t[-1]), Zone.AIR)
            self._windows += [(track, Span(part.start, part.end)) for part in (*each, whole)]
            self._parts += [*each, whole]

    def _numbers_of(self, pairs: Sequence[Pair]) -> np.ndarray:
        numbers = self._numbers
        each = [numbers.setdefault(pair, len(numbers)) for pair in pairs]
        return np.array(each, dtype=np.int64)

    def _met_on(self, track: MoveTrack, moved: tuple[tuple[bool, ...], int]) -> _Scene:
        """Return who meets whom on a move, once for all on which the same ones do."""
        if moved not in self._scene:
            pairs = pairs_to_measure(self._cell, track, self._things)
            of_wire = [pair for pair in pairs if are_wire_and_part(*pair)]
            others = self._numbers_of([pair for pair in pairs if not are_wire_and_part(*pair)])
            self._scene[moved] = _Scene(others, [standing for _, standing in of_wire], pairs)
        return self._scene[moved]

    def _on_move(
        self,
        trajectory: Trajectory,
        track: MoveTrack,
        of_move: Sequence[Stretch],
        own_pair: np.ndarray,
    ) -> tuple[_Pattern, list[Stretch]]:
        """Return the questions about one move, and its stretches and the wire's, each once."""
        cell, moved = self._cell, scene_on(self._cell, track)
        others, met, pairs = self._met_on(track, moved)
        of_wire_alone = wire_stretches(cell, trajectory, track, of_move)
        lain_on = beads_lain_on(cell, trajectory, track) if moved[1] else frozenset()
        of_beads = bead_stretches(cell, trajectory, track, of_move) if lain_on else ()
        meetings = meetings_on(cell, trajectory, track, pairs, of_move, of_wire_alone)
        met_too = (part for one in meetings for part, _ in one.asked)
        each = list(dict.fromkeys((*of_move, *of_wire_alone, *of_beads, *met_too)))
        #: For each stretch of the wire, and of what is to meet, its place among all, and the piece.
        wire = tuple((each.index(part), wire_asked(cell, part)) for part in of_wire_alone)
        beads = tuple((each.index(part), wire_asked(cell, part)) for part in of_beads)
        meets = tuple(
            (one.pair, tuple((each.index(part), piece) for part, piece in one.asked))
            for one in meetings
        )
        own = own_pair.tobytes()
        key = (moved, len(of_move), len(each), wire, beads, lain_on, meets, own)
        if key not in self._patterns:
            at_wire = [
                (self._numbers_of([(piece, standing)])[0], place)
                for standing in met
                for place, piece in (
                    beads if standing.bead_top and standing.name in lain_on else wire
                )
                if piece is not None
                and not any(one.is_about_wire_and(standing) for one in meetings)
            ]
            for pair_met, places in meets:
                others = others[others != self._numbers_of([pair_met])[0]]
                at_wire += [
                    (self._numbers_of([(piece, pair_met[1])])[0], place)
                    for place, piece in places
                    if piece is not None
                ]
            self._patterns[key] = _pattern(others, len(of_move), at_wire, own_pair, len(each))
        return self._patterns[key], each


class _Scene(NamedTuple):
    """Who meets whom: numbers of all pairs but wire and part, parts that the wire meets, all."""

    others: np.ndarray
    met: list[Obstacle]
    pairs: Sequence[Pair]


class _Pattern(NamedTuple):
    """Questions about one move: their pairs, their windows counted from the move's first, own."""

    pair: np.ndarray
    window: np.ndarray
    is_own: BoolArray


def _pattern(
    pair: np.ndarray,
    count: int,
    at_wire: Sequence[tuple[int, int]],
    own: np.ndarray,
    whole: int,
) -> _Pattern:
    """Return all pairs on all ``count`` stretches of a move, the wire on its own, and the arm's.

    ``at_wire``: pairs and windows of the wire and parts. Those of the arm itself are asked about
    on the window ``whole``, behind all stretches: the whole move.
    """
    stretched = len(pair) * count
    behind = stretched + len(at_wire)
    pairs, windows = np.empty((2, behind + len(own)), np.int64)
    pairs[:stretched].reshape(len(pair), count)[:] = pair[:, None]
    windows[:stretched].reshape(len(pair), count)[:] = np.arange(count)
    for k, (number, place) in enumerate(at_wire, stretched):
        pairs[k], windows[k] = number, place
    pairs[behind:], windows[behind:] = own, whole
    is_own = np.zeros(len(pairs), dtype=bool)
    is_own[behind:] = True
    return _Pattern(pairs, windows, is_own)
