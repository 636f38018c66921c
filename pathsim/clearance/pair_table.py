"""The pairs of a move as arrays, with a record only for those that somebody looks at.

Of thousands of pairs on a move nearly all stay beyond what is told apart. Whoever looks for the
nearest, or for those of which anything has to be said, asks the arrays; a record is made of a pair
when it is asked for, once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, overload

import numpy as np

from pathsim.clearance.contact_rules import Stretch
from pathsim.clearance.engine import Span, numbered
from pathsim.clearance.records import Clearance, Inner, Within
from pathsim.transforms import Array, BoolArray, IntArray


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
class PairNumbers:
    """What stands in the records of pairs ``(n,)``, as arrays; ``names``: piece and body.

    ``name (n,)``: which of the names. ``lower``, ``upper``, ``margin`` m; ``is_wide``: it could
    not be told narrowly. One that lies within the other has 0 for both ends.
    """

    names: Sequence[tuple[str, str]]
    name: IntArray
    lower: Array
    upper: Array
    margin: Array
    is_wide: BoolArray

    @property
    def touches(self) -> BoolArray:
        """Contact was seen, or cannot be told from contact ``(n,)``."""
        return np.asarray(self.lower <= 0.0)

    @property
    def is_doubtful(self) -> BoolArray:
        """Whether anything has to be said of each ``(n,)``."""
        return np.asarray((self.lower < self.margin) | self.touches | self.is_wide)

    def with_more(self, more: PairNumbers) -> PairNumbers:
        """Return others behind these."""
        return PairNumbers(
            [*self.names, *more.names],
            np.concatenate([self.name, len(self.names) + more.name]),
            np.concatenate([self.lower, more.lower]),
            np.concatenate([self.upper, more.upper]),
            np.concatenate([self.margin, more.margin]),
            np.concatenate([self.is_wide, more.is_wide]),
        )


class PairTable(Sequence[PairClearance]):
    """Pairs in order, as ``numbers`` and, on demand, as records, each of which ``make`` makes."""

    def __init__(self, numbers: PairNumbers, make: Callable[[int], PairClearance]) -> None:
        self.numbers = numbers
        self._make = make
        self._made: dict[int, PairClearance] = {}

    @classmethod
    def of(cls, records: Sequence[PairClearance]) -> PairTable:
        """Return records as a table; a table as it is."""
        if isinstance(records, PairTable):
            return records
        found = [one.clearance for one in records]
        name, names = numbered((one.piece, one.body) for one in records)
        numbers = PairNumbers(
            names,
            name,
            np.array([0.0 if one.is_inside else one.lower for one in found], float),
            np.array([one.upper for one in found], float),
            np.array([one.margin for one in records], float),
            np.array([one.is_wide for one in found], dtype=bool),
        )
        return cls(numbers, records.__getitem__)

    def __reduce__(self) -> tuple[Any, ...]:
        """Copy and pickle as records: how they are made is nobody else's."""
        return PairTable.of, (tuple(self),)

    def __len__(self) -> int:
        return len(self.numbers.lower)

    def __iter__(self) -> Iterator[PairClearance]:
        return map(self.record, range(len(self)))

    @overload
    def __getitem__(self, which: int) -> PairClearance: ...
    @overload
    def __getitem__(self, which: slice) -> tuple[PairClearance, ...]: ...
    def __getitem__(self, which: int | slice) -> PairClearance | tuple[PairClearance, ...]:
        places = range(len(self))[which]
        if isinstance(places, range):
            return tuple(map(self.record, places))
        return self.record(places)

    def record(self, place: int) -> PairClearance:
        """Return the pair at a place from 0 on: the same record every time."""
        known = self._made.get(place)
        if known is None:
            known = self._made[place] = self._make(place)
        return known

    def where(self, which: BoolArray) -> tuple[PairClearance, ...]:
        """Return the pairs for which ``which (n,)`` holds, in order."""
        return tuple(map(self.record, np.flatnonzero(which).tolist()))

    @property
    def worst(self) -> PairClearance | None:
        """The one with the least guaranteed clearance, contact first; None where there is none."""
        if not len(self):
            return None
        one = self.numbers
        return self.record(int(np.lexsort((one.upper, one.lower, ~one.touches))[0]))
