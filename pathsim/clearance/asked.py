"""What a program asks: all pairs on all stretches of all moves, and the margin of each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, overload

import numpy as np

from pathsim.clearance.engine import Pair, Question, Span
from pathsim.clearance.questions import Questions, Window
from pathsim.clearance.rules import (
    OWN_MARGIN,
    Standing,
    Stretch,
    Zone,
    are_wire_and_part,
    is_table_moved,
    pair_margin,
    pairs_to_measure,
)
from pathsim.clearance.stretches import stretches, wire_asked, wire_margin, wire_stretches
from pathsim.model import Cell, Piece
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Flags


class AskedPair(NamedTuple):
    """A question, and what its answer is measured by.

    ``at_weld``: it is about the wire and a part by a weld, where they come near by their nature.
    """

    question: Question
    part: Stretch
    margin: float
    at_weld: bool = False


@dataclass(frozen=True, eq=False)
class AskedPairs(Sequence[AskedPair]):
    """Questions, the stretch that each of their windows is, and their margins.

    ``is_own (n,)``: whether a question is about the arm against itself.
    """

    cell: Cell
    questions: Questions
    parts: Sequence[Stretch]
    is_own: np.ndarray
    _margins: dict[tuple[Piece, int], float] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.questions)

    @overload
    def __getitem__(self, which: int) -> AskedPair: ...
    @overload
    def __getitem__(self, which: slice) -> list[AskedPair]: ...
    def __getitem__(self, which: int | slice) -> AskedPair | list[AskedPair]:
        if isinstance(which, slice):
            return [self[k] for k in range(*which.indices(len(self)))]
        window = int(self.questions.window[which])
        return self._asked(self.questions[which], window, bool(self.is_own[which]))

    def __iter__(self) -> Iterator[AskedPair]:
        windows, own = self.questions.window.tolist(), self.is_own.tolist()
        for question, window, is_own in zip(self.questions, windows, own, strict=True):
            yield self._asked(question, window, is_own)

    def _asked(self, question: Question, window: int, is_own: bool) -> AskedPair:
        part = self.parts[window]
        if is_own:
            return AskedPair(question, part, OWN_MARGIN)
        if are_wire_and_part(question.piece, question.standing):
            at_weld = part.zone is Zone.SEAM
            return AskedPair(question, part, wire_margin(self.cell, part), at_weld)
        key = question.piece, window
        if key not in self._margins:
            self._margins[key] = pair_margin(self.cell, question.track, question.piece, part)
        return AskedPair(question, part, self._margins[key])


def questions_of(
    cell: Cell,
    trajectory: Trajectory,
    things: tuple[Standing, ...],
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
    numbers: dict[Pair, int] = {}

    def numbers_of(pairs: Sequence[Pair]) -> np.ndarray:
        each = [numbers.setdefault(pair, len(numbers)) for pair in pairs]
        return np.array(each, dtype=np.int64)

    own_pair = numbers_of(own)
    scene: dict[bool, tuple[np.ndarray, list[Standing]]] = {}
    patterns: dict[tuple[object, ...], _Pattern] = {}
    windows: list[Window] = []
    parts: list[Stretch] = []
    asked: list[_Pattern] = []
    for track in trajectory.tracks if tracks is None else tracks:
        # Which pairs there are depends on a move by this alone.
        moved = is_table_moved(cell, track)
        if moved not in scene:
            pairs = pairs_to_measure(cell, track, things)
            of_wire = [pair for pair in pairs if are_wire_and_part(*pair)]
            others = numbers_of([pair for pair in pairs if not are_wire_and_part(*pair)])
            scene[moved] = others, [standing for _, standing in of_wire]
        of_move = stretches(cell, trajectory, track)
        of_wire_alone = wire_stretches(cell, trajectory, track, of_move)
        each = list(dict.fromkeys((*of_move, *of_wire_alone)))
        #: For each stretch of the wire its place among all, and what of the wire is asked about.
        wire = tuple((each.index(part), wire_asked(cell, part)) for part in of_wire_alone)
        key = (moved, len(of_move), len(each), wire)
        if key not in patterns:
            others, met = scene[moved]
            at_wire = [
                (numbers_of([(piece, standing)])[0], place)
                for standing in met
                for place, piece in wire
                if piece is not None
            ]
            patterns[key] = _pattern(others, len(of_move), at_wire, own_pair, len(each))
        pair, window, is_own = patterns[key]
        asked.append(_Pattern(pair, window + len(parts), is_own))
        whole = Stretch(*_ends(track), Zone.AIR)
        windows += [(track, Span(part.start, part.end)) for part in (*each, whole)]
        parts += [*each, whole]
    if not asked:
        none = np.zeros(0, np.int64)
        asked.append(_Pattern(none, none, np.zeros(0, bool)))
    pair, window, is_own = map(np.concatenate, zip(*asked, strict=True))
    return AskedPairs(cell, Questions(list(numbers), windows, pair, window), parts, is_own)


class _Pattern(NamedTuple):
    """Questions about one move: their pairs, their windows counted from the move's first, own."""

    pair: np.ndarray
    window: np.ndarray
    is_own: Flags


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
    wire = np.array(at_wire, dtype=np.int64).reshape(-1, 2)
    return _Pattern(
        np.concatenate([np.repeat(pair, count), wire[:, 0], own]),
        np.concatenate(
            [np.tile(np.arange(count), len(pair)), wire[:, 1], np.full(len(own), whole)]
        ),
        np.repeat([False, True], [len(pair) * count + len(wire), len(own)]),
    )


def _ends(track: MoveTrack) -> Span:
    return Span(float(track.t[0]), float(track.t[-1]))
