"""What a clearance engine must answer. The reference engine does, and the fast one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from pathsim.clearance.corner import Corner
from pathsim.clearance.records import Clearance
from pathsim.clearance.rules import Standing
from pathsim.model import Piece
from pathsim.motion import MoveTrack


class Span(NamedTuple):
    """A stretch of time, s."""

    start: float
    end: float


class Question(NamedTuple):
    """Ask how near ``piece`` comes to ``standing`` on this part of a move."""

    track: MoveTrack
    piece: Piece
    standing: Standing
    window: Span


#: Called with how much of the questions is answered, 0..1; it may raise to give up.
Answered = Callable[[float], None]


class MoveMeasure(Protocol):
    """Measures pairs on one move."""

    def spans_below(
        self, piece: Piece, standing: Standing, window: Span, threshold: float
    ) -> tuple[Span, ...]:
        """Return when the pair may be closer than ``threshold`` (m); outside it is proved not.

        With threshold 0: when it touches.
        """
        ...

    def rounds(self, piece: Piece, standing: Standing, corner: Corner) -> Clearance:
        """Return the clearance interval of a pair over all ways of rounding a corner."""
        ...


class Engine(Protocol):
    """Measures pairs of one cell.

    ``tolerance``: width of its intervals, m. ``cap``: farther than this is all it says, m.
    ``name``: how results say who worked them out; ``note``: what a person must hear of it.
    """

    name: str
    note: str
    tolerance: float
    cap: float

    def on(self, track: MoveTrack) -> MoveMeasure:
        """Return a measure for this move."""
        ...

    def closest_of(
        self, questions: Sequence[Question], answered: Answered | None = None
    ) -> list[Clearance]:
        """Return the clearance interval of each pair over its window.

        ``is_inside`` where one lies wholly within the other at the window's start.
        """
        ...
