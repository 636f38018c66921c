"""Many questions that share pairs and windows: each of those once, and numbers for the rest.

A program asks hundreds of questions about few pairs on few windows. Kept as numbers, they are
made, sorted and answered without a record for each of them.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance.engine import Pair, Question, Span
from pathsim.motion import MoveTrack

Numbered = TypeVar("Numbered", bound=Hashable)
#: Part of a move.
Window = tuple[MoveTrack, Span]


@dataclass(frozen=True, eq=False)
class Questions(Sequence[Question]):
    """Questions, of which each is read as a record when somebody asks for it.

    ``pairs``, ``windows``: what they are about; ``pair (n,)``, ``window (n,)``: which of them.
    """

    pairs: Sequence[Pair]
    windows: Sequence[Window]
    pair: NDArray[np.int64]
    window: NDArray[np.int64]

    @classmethod
    def of(cls, questions: Sequence[Question]) -> Questions:
        """Return any questions as these."""
        if isinstance(questions, Questions):
            return questions
        pair, pairs = numbered((one.piece, one.standing) for one in questions)
        window, windows = numbered((one.track, one.window) for one in questions)
        return cls(pairs, windows, pair, window)

    def __len__(self) -> int:
        return len(self.pair)

    def __iter__(self) -> Iterator[Question]:
        for pair, window in zip(self.pair.tolist(), self.window.tolist(), strict=True):
            yield self._question(pair, window)

    @overload
    def __getitem__(self, which: int) -> Question: ...
    @overload
    def __getitem__(self, which: slice) -> Questions: ...
    def __getitem__(self, which: int | slice) -> Question | Questions:
        if isinstance(which, slice):
            return Questions(self.pairs, self.windows, self.pair[which], self.window[which])
        return self._question(int(self.pair[which]), int(self.window[which]))

    def _question(self, pair: int, window: int) -> Question:
        (piece, standing), (track, span) = self.pairs[pair], self.windows[window]
        return Question(track, piece, standing, span)


def numbered(things: Iterable[Numbered]) -> tuple[NDArray[np.int64], list[Numbered]]:
    """Return the number of each thing ``(n,)``, in order of appearance, and each of them once."""
    numbers: dict[Numbered, int] = {}
    each = [numbers.setdefault(thing, len(numbers)) for thing in things]
    return np.array(each, dtype=np.int64), list(numbers)
