"""What a clearance engine must answer. The reference engine does; a faster one may."""

from __future__ import annotations

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


class MoveMeasure(Protocol):
    """Measures pairs on one move."""

    def closest(self, piece: Piece, standing: Standing, window: Span) -> Clearance:
        """Return the clearance interval of a pair over ``window``."""
        ...

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

    def starts_inside(self, piece: Piece, standing: Standing, time: float) -> bool:
        """Tell whether at ``time`` one of the two lies wholly within the other."""
        ...


class Engine(Protocol):
    """Builds measures for moves of one cell.

    ``tolerance``: width of its intervals, m. ``cap``: farther than this is all it says, m.
    """

    tolerance: float
    cap: float

    def on(self, track: MoveTrack) -> MoveMeasure:
        """Return a measure for this move."""
        ...
