"""What was found of all pairs of one move."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from pathsim.clearance.pair_table import PairClearance, PairTable
from pathsim.motion import MoveTrack
from pathsim.records import FieldsOnly


@dataclass(frozen=True, eq=False)
class MoveClearance(FieldsOnly):
    """All pairs of one move.

    ``own``: the arm and torch against the arm itself, which are only told apart where it gets
    narrow (``rules.OWN_CAP``). ``wire``: the wire against parts by a weld, where it comes near
    by its nature, so that only contact counts. The first two hold thousands of pairs and make a
    record of one when it is looked at (``table``, ``own_table``).
    """

    track: MoveTrack
    pairs: Sequence[PairClearance]
    own: Sequence[PairClearance] = ()
    wire: Sequence[PairClearance] = ()

    def __repr__(self) -> str:
        return f"MoveClearance(move {self.track.number}, {len(self.pairs)} pairs)"

    @cached_property
    def table(self) -> PairTable:
        """``pairs`` as arrays."""
        return PairTable.of(self.pairs)

    @cached_property
    def own_table(self) -> PairTable:
        """``own`` as arrays."""
        return PairTable.of(self.own)

    @cached_property
    def noteworthy(self) -> tuple[PairClearance, ...]:
        """All pairs with what stands; of the arm itself and the wire those that are too near."""
        return (*self.pairs, *self._beside)

    @cached_property
    def doubtful(self) -> tuple[PairClearance, ...]:
        """Those of ``noteworthy`` of which anything has to be said; mostly none of thousands."""
        return (*self.table.where(self.table.numbers.is_doubtful), *self._beside)

    @cached_property
    def worst(self) -> PairClearance | None:
        """Pair with the least guaranteed clearance; None when nothing was measured."""

        def rank(pair: PairClearance) -> tuple[bool, float, float]:
            found = pair.clearance
            return (not found.touches, found.lower, found.upper)

        first = self.table.worst
        return min([*([] if first is None else [first]), *self._beside], key=rank, default=None)

    @property
    def _beside(self) -> tuple[PairClearance, ...]:
        """Pairs of the arm itself and of the wire that are too near."""
        own = self.own_table.numbers
        near = self.own_table.where(own.lower < own.margin)
        return (*near, *(pair for pair in self.wire if pair.clearance.touches))
