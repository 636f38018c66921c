"""What a clearance engine must answer. The reference engine does, and the fast one."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.records import Clearance, Content, Inner
from pathsim.errors import CannotCheck
from pathsim.model import Piece
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, BoolArray

#: How finely ends of intervals are told: to this way of the piece, m, or this share of its whole
#: way on the stretch. So there is an end to it, however far a piece goes, as one in a wrong unit.
SPAN_TRAVEL, SPAN_SHARE = 5e-4, 1.0 / 4096.0
#: So many such ways (16 mm as a rule) are near as a whole if their start, middle and end are.
JOINED = 32

Numbered = TypeVar("Numbered", bound=Hashable)
#: A piece, and what it is measured against.
Pair = tuple[Piece, Obstacle]


class Span(NamedTuple):
    """A stretch of time, s."""

    start: float
    end: float


#: Part of a move.
Window = tuple[MoveTrack, Span]


def joined_spans(spans: list[Span]) -> tuple[Span, ...]:
    """Spans that follow each other without a gap, as one."""
    joined: list[Span] = []
    for span in spans:
        if joined and span.start <= joined[-1].end:
            joined[-1] = Span(joined[-1].start, span.end)
        else:
            joined.append(span)
    return tuple(joined)


class PairQuery(NamedTuple):
    """Ask how near ``piece`` comes to ``standing`` on this part of a move."""

    track: MoveTrack
    piece: Piece
    standing: Obstacle
    window: Span


def numbered(things: Iterable[Numbered]) -> tuple[NDArray[np.int64], list[Numbered]]:
    """Return the number of each thing ``(n,)``, in order of appearance, and each of them once."""
    numbers: dict[Numbered, int] = {}
    each = [numbers.setdefault(thing, len(numbers)) for thing in things]
    return np.array(each, dtype=np.int64), list(numbers)


@dataclass(frozen=True, eq=False)
class Queries(Sequence[PairQuery]):
    """Questions, of which each is read as a record when somebody asks for it.

    ``pairs``, ``windows``: what they are about; ``pair (n,)``, ``window (n,)``: which of them.
    """

    pairs: Sequence[Pair]
    windows: Sequence[Window]
    pair: NDArray[np.int64]
    window: NDArray[np.int64]

    @classmethod
    def of(cls, queries: Sequence[PairQuery]) -> Queries:
        """Return any questions as these."""
        if isinstance(queries, Queries):
            return queries
        pair, pairs = numbered((one.piece, one.standing) for one in queries)
        window, windows = numbered((one.track, one.window) for one in queries)
        return cls(pairs, windows, pair, window)

    def __len__(self) -> int:
        return len(self.pair)

    def __iter__(self) -> Iterator[PairQuery]:
        for pair, window in zip(self.pair.tolist(), self.window.tolist(), strict=True):
            yield self._question(pair, window)

    @overload
    def __getitem__(self, which: int) -> PairQuery: ...
    @overload
    def __getitem__(self, which: slice) -> Queries: ...
    def __getitem__(self, which: int | slice) -> PairQuery | Queries:
        if isinstance(which, slice):
            return Queries(self.pairs, self.windows, self.pair[which], self.window[which])
        return self._question(int(self.pair[which]), int(self.window[which]))

    def at(self, places: NDArray[np.int64]) -> Queries:
        """Return those at some places ``(k,)``."""
        return Queries(self.pairs, self.windows, self.pair[places], self.window[places])

    def _question(self, pair: int, window: int) -> PairQuery:
        (piece, standing), (track, span) = self.pairs[pair], self.windows[window]
        return PairQuery(track, piece, standing, span)


class Bounds(NamedTuple):
    """Ends of intervals of clearance ``(n,)``, m; ``is_inside``: one lies within the other."""

    lower: Array
    upper: Array
    is_inside: BoolArray

    @classmethod
    def of(cls, lower: Array, upper: Array, is_inside: BoolArray) -> Bounds:
        """Return bounds; CannotCheck when one is not a number, which would read as clear."""
        if np.isnan(lower).any() or np.isnan(upper).any():
            raise CannotCheck("a clearance came out as not a number")
        return cls(lower, upper, is_inside)

    @classmethod
    def of_records(cls, found: Sequence[Clearance]) -> Bounds:
        """Return what records of clearance say."""
        ends = np.array([(one.lower, one.upper) for one in found], float).reshape(-1, 2)
        return cls(ends[:, 0], ends[:, 1], np.array([one.is_inside for one in found], dtype=bool))

    @property
    def touches(self) -> BoolArray:
        """Contact was seen, or cannot be told from contact ``(n,)``."""
        return np.asarray(self.is_inside | (self.lower <= 0.0))

    def part(self, start: int, end: int) -> Bounds:
        """Return those from ``start`` to before ``end``."""
        return Bounds(self.lower[start:end], self.upper[start:end], self.is_inside[start:end])


#: Called with how much of the questions is answered, 0..1; it may raise to give up.
Answered = Callable[[float], None]


class MoveMeasure(Protocol):
    """Measures pairs on one move."""

    def intervals_below(
        self, piece: Piece, standing: Obstacle, window: Span, threshold: float
    ) -> tuple[Span, ...]:
        """Return when the pair may be closer than ``threshold`` (m); outside it is proved not.

        With threshold 0: when it touches. Ends are told by ``SPAN_TRAVEL``; a gap over which the
        piece goes less than half of ``JOINED`` such ways may be counted to what is round it.
        """
        ...

    def inner_at(self, piece: Piece, standing: Obstacle, times: Array) -> list[Inner | None]:
        """Tell which of the two lies wholly within the other at each of ``times (n,)``.

        Only where their surfaces do not meet; None where neither does.
        """
        ...

    def first_contact(
        self, piece: Piece, standing: Obstacle, times: Array
    ) -> tuple[float, Array, Array] | None:
        """Return the first of ``times (n,)``, rising, at which their surfaces meet, and where.

        Places ``(3,)`` on the piece and on what stands, in the world, m; None at no such time.
        """
        ...


class NearestSeen(NamedTuple):
    """The nearest pair at each of several moments.

    ``pair (n,)``: its place among the pairs asked about, -1 where none is within the cap.
    ``distance (n,)`` m, inf there; ``on_moving``, ``on_standing`` ``(n, 3)`` in the world, nan
    there.
    """

    pair: NDArray[np.int64]
    distance: Array
    on_moving: Array
    on_standing: Array

    @classmethod
    def none(cls, count: int) -> NearestSeen:
        """Return that nothing is within the cap at ``count`` moments."""
        nowhere = np.full((2, count, 3), np.nan)
        return cls(np.full(count, -1), np.full(count, np.inf), *nowhere)


class Sampler(Protocol):
    """Looks at several pairs over one move."""

    def nearest(self, times: Array, asked: BoolArray) -> NearestSeen:
        """Return the nearest pair at each of ``times (n,)``; ``asked (n, pairs)``: which count.

        Exact, to a hundredth of a millimetre at the least.
        """
        ...

    def least(
        self, times: Array, asked: BoolArray, proved: Array
    ) -> tuple[Array, NDArray[np.int64]]:
        """Lower bound ``(n - 1,)`` of all distances between neighbouring ``times (n,)``, m.

        And the pair it is the bound of, -1 at the cap. ``asked (n - 1, pairs)``: which pairs
        count; ``proved`` of the same shape: what is known of each already. Capped; the path
        error is taken off.
        """
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

    def finer(self, tolerance: float, cap: float) -> Engine:
        """Return an engine for the same cell with narrower intervals and a smaller cap, m."""
        ...

    def on(self, track: MoveTrack) -> MoveMeasure:
        """Return a measure for this move."""
        ...

    def looks(self, track: MoveTrack, pairs: Sequence[Pair]) -> Sampler:
        """Return looks at these pairs on a move."""
        ...

    def min_distance(
        self, queries: Sequence[PairQuery], answered: Answered | None = None
    ) -> list[Clearance]:
        """Return the clearance interval of each pair over its window.

        With ``inner`` where one lies wholly within the other at the window's start.
        """
        ...

    def bounds(self, queries: Sequence[PairQuery]) -> Bounds:
        """Return the ends of the intervals of ``min_distance`` alone, without its records."""
        ...

    def kept(self, content: Content, make: Callable[[], Clearance]) -> Clearance:
        """Return what is kept under its content from check to check, made now if nothing is."""
        ...

    def distances(
        self, piece: Piece, standing: Obstacle, poses: Array, cap: float, enough: float = 0.0
    ) -> Array:
        """Distance ``(n,)`` m of a piece from what stands, with its link at ``poses (n, 4, 4)``.

        As seen from where ``standing`` is placed. Exact; ``cap`` where it is more, 0 where
        surfaces meet; below ``enough`` only known to be below it.
        """
        ...
