"""All questions of a program answered, taken apart by moves without a record for each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from operator import attrgetter

import numpy as np

from pathsim.clearance.asked_pairs import AskedPair, AskedPairs
from pathsim.clearance.engine import Pair
from pathsim.clearance.pair_table import PairClearance, PairNumbers, PairTable
from pathsim.clearance.records import Clearance, Inner
from pathsim.errors import CannotCheck
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, BoolArray, IntArray

#: Makes a record of a pair that has been near, and of one that lies in the other all along.
LookCloser = Callable[[AskedPair, Clearance], PairClearance]
Swallowed = Callable[[AskedPair, Inner], PairClearance]


class AnsweredPairs:
    """Questions and the clearance of each.

    Nearly all pairs are beyond their caps all along, and of those there is nothing else to ask;
    all others were looked at closer. ``inside``: pairs of which one lies in the other over all of
    the program.
    """

    def __init__(
        self,
        asked: AskedPairs,
        found: Sequence[Clearance],
        inside: Mapping[Pair, Inner],
        look_closer: LookCloser,
        swallowed: Swallowed,
    ) -> None:
        self._asked, self._found, n = asked, found, len(found)
        queries = asked.queries
        self._lower: Array = np.fromiter(map(attrgetter("lower"), found), float, n)
        self._upper: Array = np.fromiter(map(attrgetter("upper"), found), float, n)
        self._is_wide: BoolArray = np.fromiter(map(attrgetter("is_wide"), found), bool, n)
        within = [inside.get(pair) for pair in queries.pairs]
        is_within = np.array([one is not None for one in within], dtype=bool)[queries.pair]
        near = np.isfinite(self._upper) | (self._lower <= 0.0) | (self._lower < asked.margins)
        self._is_told: BoolArray = np.zeros(n, dtype=bool)
        self._closer: dict[int, PairClearance] = {}
        for k in np.flatnonzero(near | is_within).tolist():
            inner = within[int(queries.pair[k])]
            if inner is not None:
                one = swallowed(asked[k], inner)
            else:
                one = look_closer(asked[k], found[k])
            self._closer[k] = one
            self._lower[k], self._upper[k] = one.clearance.lower, one.clearance.upper
            self._is_wide[k] = one.clearance.is_wide
        self._names = [(piece.name, standing.name) for piece, standing in queries.pairs]
        self._number = {pair: k for k, pair in enumerate(queries.pairs)}
        self._kept_places: dict[int, tuple[Sequence[Pair], IntArray]] = {}
        moves = np.array([track.index for track, _ in queries.windows], np.int64)[queries.window]
        self._by_move = np.argsort(moves, kind="stable")
        self._moves = moves[self._by_move]

    def wires(self, track: MoveTrack) -> tuple[PairClearance, ...]:
        """Return what was found of two that come near each other by their nature on a move."""
        of_move = self._of_move(track)
        asked = of_move[self._asked.at_weld[of_move]]
        self._is_told[asked] = True
        return tuple(map(self._record, asked.tolist()))

    def require_all_told(self) -> None:
        """Raise CannotCheck where somebody was asked about and stands in no move's answer."""
        left = np.flatnonzero(~self._is_told)
        if len(left):
            piece, body = self._names[int(self._asked.queries.pair[left[0]])]
            raise CannotCheck(
                f"{len(left)} of {len(self._found)} answers belong to no move's pairs, "
                f"the first of {piece} and {body}"
            )

    def of(
        self, track: MoveTrack, pairs: Sequence[Pair], proved: Sequence[PairClearance] = ()
    ) -> PairTable:
        """Return all stretches of pairs on a move, in their order; those ``proved`` behind them."""
        of_move = self._of_move(track)
        of_move = of_move[~self._asked.at_weld[of_move]]
        at = self._places(pairs)[self._asked.queries.pair[of_move]]
        asked = of_move[at >= 0][np.argsort(at[at >= 0], kind="stable")]
        self._is_told[asked] = True
        return PairTable(self._numbers(asked, proved), self._make(asked, proved))

    def of_each(self, track: MoveTrack, pairs: Sequence[Pair]) -> Iterator[list[PairClearance]]:
        """Yield the stretches of each pair on a move."""
        table = self.of(track, pairs)
        found: dict[int, list[PairClearance]] = defaultdict(list)
        for number, one in zip(table.numbers.name.tolist(), table, strict=True):
            found[number].append(one)
        for pair in pairs:
            yield found[self._number.get(pair, -1)]

    def _places(self, pairs: Sequence[Pair]) -> IntArray:
        """Return the place of each pair that was asked about among ``pairs``, -1 of others."""
        kept = self._kept_places.get(id(pairs))
        if kept is None:
            place = np.full(len(self._names), -1)
            for k, pair in enumerate(pairs):
                if pair in self._number:
                    place[self._number[pair]] = k
            kept = self._kept_places[id(pairs)] = pairs, place  # held, so that its id stays its own
        return kept[1]

    def _of_move(self, track: MoveTrack) -> IntArray:
        first, last = np.searchsorted(self._moves, [track.index, track.index + 1])
        found: IntArray = self._by_move[first:last]
        return found

    def _numbers(self, asked: IntArray, proved: Sequence[PairClearance]) -> PairNumbers:
        name, margins = self._asked.queries.pair[asked], self._asked.margins[asked]
        numbers = PairNumbers(
            self._names, name, self._lower[asked], self._upper[asked], margins, self._is_wide[asked]
        )
        return numbers.with_more(PairTable.of(proved).numbers) if proved else numbers

    def _make(
        self, asked: IntArray, proved: Sequence[PairClearance]
    ) -> Callable[[int], PairClearance]:
        def make(place: int) -> PairClearance:
            if place < len(asked):
                return self._record(int(asked[place]))
            return proved[place - len(asked)]

        return make

    def _record(self, k: int) -> PairClearance:
        known = self._closer.get(k)
        if known is not None:
            return known
        asked = self._asked
        window = int(asked.queries.window[k])
        piece, body = self._names[int(asked.queries.pair[k])]
        number, margin = asked.queries.windows[window][0].number, float(asked.margins[k])
        return PairClearance(number, piece, body, asked.parts[window], margin, self._found[k], ())
