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
    stretches,
)
from pathsim.model import Cell, Piece
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Flags


class AskedPair(NamedTuple):
    """A question, and what its answer is measured by."""

    question: Question
    part: Stretch
    margin: float


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
    """Return all pairs on all stretches of moves where contact is not what is wanted.

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
    scene: dict[bool, tuple[np.ndarray, Flags]] = {}
    patterns: dict[tuple[bool, ...], _Pattern] = {}
    windows: list[Window] = []
    parts: list[Stretch] = []
    asked: list[_Pattern] = []
    for track in trajectory.tracks if tracks is None else tracks:
        # Which pairs there are depends on a move by this alone.
        moved = is_table_moved(cell, track)
        if moved not in scene:
            pairs = pairs_to_measure(cell, track, things)
            wanted = np.array([are_wire_and_part(*each) for each in pairs], dtype=bool)
            scene[moved] = numbers_of(pairs), wanted
        of_move = stretches(cell, trajectory, track)
        at_weld = tuple(part.wire_may_touch_part for part in of_move)
        if (moved, *at_weld) not in patterns:
            patterns[moved, *at_weld] = _pattern(*scene[moved], at_weld, own_pair)
        pair, window, is_own = patterns[moved, *at_weld]
        asked.append(_Pattern(pair, window + len(parts), is_own))
        whole = Stretch(*_ends(track), Zone.AIR, wire_may_touch_part=False)
        windows += [(track, Span(part.start, part.end)) for part in (*of_move, whole)]
        parts += [*of_move, whole]
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
    pair: np.ndarray, is_wanted: Flags, at_weld: Sequence[bool], own: np.ndarray
) -> _Pattern:
    """Return all pairs on all stretches of a move but contact that is wanted, and the arm itself.

    Those of the arm itself are asked about on the window behind the stretches: the whole move.
    """
    count = len(at_weld)
    asked = ~(is_wanted[:, None] & np.array(at_weld)).reshape(-1)
    scene, window = np.repeat(pair, count)[asked], np.tile(np.arange(count), len(pair))[asked]
    return _Pattern(
        np.concatenate([scene, own]),
        np.concatenate([window, np.full(len(own), count)]),
        np.repeat([False, True], [len(scene), len(own)]),
    )


def _ends(track: MoveTrack) -> Span:
    return Span(float(track.t[0]), float(track.t[-1]))
