"""Questions about pairs on windows of moves, with the margin that each answer is held against."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance.contact_rules import (
    Stretch,
    Zone,
    are_wanted,
    are_wire_and_part,
    own_margin,
    pair_margin,
    unknown_place,
)
from pathsim.clearance.engine import PairQuery, Queries
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.stretches import wire_margin
from pathsim.model import Cell, Piece
from pathsim.transforms import Array, BoolArray


class AskedPair(NamedTuple):
    """A question, and what its answer is measured by.

    ``at_weld``: it is about two that come near each other there by their nature: the wire and a
    part by a weld, or what a search or a station wants to meet.
    """

    question: PairQuery
    part: Stretch
    margin: float
    at_weld: bool = False


@dataclass(frozen=True, eq=False)
class AskedPairs(Sequence[AskedPair]):
    """Questions, the stretch that each of their windows is, and their margins.

    ``is_own (n,)``: whether a question is about the arm against itself.
    """

    cell: Cell
    queries: Queries
    parts: Sequence[Stretch]
    is_own: BoolArray

    @cached_property
    def margins(self) -> Array:
        """Margin of each question ``(n,)``, m."""
        pair, window = self.queries.pair, self.queries.window
        unknown = np.array([unknown_place(*pair) for pair in self.queries.pairs])
        found: Array = self._of_pieces + unknown[pair]
        wire = np.flatnonzero(self._is_wire)
        if len(wire):
            of_wire = np.array([wire_margin(self.cell, part) for part in self.parts])
            unknown_too = np.where(self.at_weld[wire], 0.0, unknown[pair[wire]])
            found[wire] = of_wire[window[wire]] + unknown_too
        found[self._is_wanted] = 0.0
        own = np.array([own_margin(*pair) for pair in self.queries.pairs])
        found[self.is_own] = own[pair[self.is_own]]
        return found

    @cached_property
    def at_weld(self) -> BoolArray:
        """Whether each question ``(n,)`` is about two that come near there by their nature."""
        by_weld = np.array([part.zone is Zone.SEAM for part in self.parts], dtype=bool)
        return np.asarray(self._is_wire & by_weld[self.queries.window] | self._is_wanted)

    @cached_property
    def _is_wanted(self) -> BoolArray:
        """Whether each question ``(n,)`` is about what a search or a station wants to meet."""
        found = np.zeros(len(self.queries), dtype=bool)
        windows = [k for k, part in enumerate(self.parts) if part.wants is not None]
        if windows:
            pair, window = self.queries.pair, self.queries.window
            for k in np.flatnonzero(np.isin(window, windows) & ~self.is_own).tolist():
                wants = self.parts[int(window[k])].wants
                found[k] = are_wanted(*self.queries.pairs[int(pair[k])], wants)
        return found

    @cached_property
    def _is_wire(self) -> BoolArray:
        is_wire = np.array([are_wire_and_part(*pair) for pair in self.queries.pairs], dtype=bool)
        return np.asarray(is_wire[self.queries.pair] & ~self.is_own)

    def at(self, places: NDArray[np.int64]) -> AskedPairs:
        """Return those at some places ``(k,)``."""
        return AskedPairs(self.cell, self.queries.at(places), self.parts, self.is_own[places])

    @property
    def _of_pieces(self) -> Array:
        """What is asked of each question's piece ``(n,)``, m, without what its place leaves open.

        Worked out once for each window and for each kind of pair that ``pair_margin`` knows.
        """
        kinds: dict[object, int] = {}
        each: list[tuple[Piece, Obstacle]] = []
        rows = []
        for piece, thing in self.queries.pairs:
            kind: object = piece
            if piece.cable is None:
                kind = None if piece.body is None else (piece.body.stands_on, thing.stands_on)
            if kind not in kinds:
                kinds[kind] = len(each)
                each.append((piece, thing))
            rows.append(kinds[kind])
        windows = zip(self.queries.windows, self.parts, strict=True)
        table = np.array([
            [pair_margin(self.cell, track, piece, thing, part) for piece, thing in each]
            for (track, _), part in windows
        ]).reshape(len(self.parts), len(each))  # fmt: skip
        return np.asarray(table[self.queries.window, np.array(rows, np.int64)[self.queries.pair]])

    def __len__(self) -> int:
        return len(self.queries)

    @overload
    def __getitem__(self, which: int) -> AskedPair: ...
    @overload
    def __getitem__(self, which: slice) -> list[AskedPair]: ...
    def __getitem__(self, which: int | slice) -> AskedPair | list[AskedPair]:
        if isinstance(which, slice):
            return [self[k] for k in range(*which.indices(len(self)))]
        part = self.parts[int(self.queries.window[which])]
        margin, at_weld = float(self.margins[which]), bool(self.at_weld[which])
        return AskedPair(self.queries[which], part, margin, at_weld)

    def __iter__(self) -> Iterator[AskedPair]:
        parts = (self.parts[window] for window in self.queries.window.tolist())
        each = zip(self.queries, parts, self.margins.tolist(), self.at_weld.tolist(), strict=True)
        return itertools.starmap(AskedPair, each)
