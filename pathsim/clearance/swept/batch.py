"""Queries sorted by what they share: few pairs, few windows of moves, hundreds of queries.

The relative chains of a cell stand here too, with each window of a move laid out once per chain.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.clearance.engine import Pair, PairQuery, Queries, Span, numbered
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.relative_chain import ChainId, chain_id, linkage_of, pieces_on
from pathsim.clearance.swept.cache import EngineCache, Key
from pathsim.clearance.swept.chain_motion import (
    CarryingLinks,
    ChainMotion,
    MoveWindow,
    carrying_links_key,
    window_key,
)
from pathsim.clearance.swept.window_knots import knots_within, window_knots, within
from pathsim.each_once import each_once
from pathsim.model import Cell, Piece
from pathsim.model.linkage import Linkage
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, IntArray


class Chains:
    """Stretches of moves for the kernels, each laid out once."""

    def __init__(self, cell: Cell, memory: EngineCache) -> None:
        self._cell, self._memory = cell, memory
        self._slides = bool(cell.axes.prismatic.any())
        self._linkages: dict[ChainId, Linkage] = {}
        self._pieces: dict[ChainId, tuple[Piece, ...]] = {}
        self._links: dict[tuple[ChainId, bytes], CarryingLinks] = {}
        self._places: dict[ChainId, dict[Piece, int]] = {}
        self._stretches: dict[tuple[ChainId, MoveTrack, Span], MoveWindow] = {}

    def pieces(self, chain: ChainId) -> tuple[Piece, ...]:
        """Everything that a chain carries."""
        if chain not in self._pieces:
            self._pieces[chain] = pieces_on(self._cell, chain, self._linkage(chain).skip)
        return self._pieces[chain]

    def places(self, chain: ChainId) -> dict[Piece, int]:
        """Return the place of each piece in ``pieces``, as in ``ChainMotion.reach``."""
        if chain not in self._places:
            self._places[chain] = {piece: k for k, piece in enumerate(self.pieces(chain))}
        return self._places[chain]

    def stretch(
        self, track: MoveTrack, piece: Piece, standing: Obstacle, window: Span
    ) -> MoveWindow:
        """Return a stretch of a move as the chain of a pair goes through it."""
        return self.window_of(chain_id(piece, standing), track, window)

    def window_of(self, name: ChainId, track: MoveTrack, window: Span) -> MoveWindow:
        """Return a stretch of a move as a chain goes through it."""
        key = (name, track, window)
        known = self._stretches.get(key)
        if known is None:
            known = self._stretches[key] = self._lay_out(name, track, window)
        return known

    def _lay_out(self, name: ChainId, track: MoveTrack, window: Span) -> MoveWindow:
        links = self.links_on(name, track)
        part = within(track, window)
        knots: list[tuple[Array, Array]] = []

        def laid() -> tuple[Array, Array]:
            if not knots:
                knots.append(window_knots(track, part, links.linkage))
            return knots[0]

        key = track.kept.once((links.digest, part), lambda: window_key(links, *laid()))
        course = self._memory.course(key, lambda: ChainMotion.of(links, *laid()))
        return MoveWindow(name, course, window.start, key, knots_within(track, part).line)

    def sorted_pairs(self, pairs: Sequence[Pair]) -> SortedPairs:
        """Return pairs sorted: once for all questions about the same ones."""
        return self._memory.sorted_pairs(pairs, lambda: SortedPairs(list(pairs)))

    def _linkage(self, name: ChainId) -> Linkage:
        if name not in self._linkages:
            self._linkages[name] = linkage_of(self._cell, name)
        return self._linkages[name]

    def links_on(self, name: ChainId, track: MoveTrack) -> CarryingLinks:
        """Links of a chain on a move; their levers grow with how far slides go on it."""
        if not self._slides and (name, b"") in self._links:
            return self._links[(name, b"")]
        stroke = self._cell.axes.stroke(track.q)
        key = (name, stroke.tobytes() if self._slides else b"")
        if key not in self._links:
            linkage, pieces = self._linkage(name), self.pieces(name)
            self._links[key] = self._memory.links(
                carrying_links_key(linkage, pieces, stroke),
                lambda: CarryingLinks.of(linkage, pieces, stroke),
            )
        return self._links[key]


#: All questions about one body that the same chain carries its pieces past.
Group = tuple[ChainId, Obstacle]


class SortedPairs:
    """Pairs by what they share, whatever is asked about them.

    ``chains``: what carries each of them (``chain_id``); ``chain (pairs,)``: which of
    ``each_chain`` that is. ``standings``: what stands in any of them, each once; ``standing
    (pairs,)``: which of those.
    """

    def __init__(self, pairs: list[Pair]) -> None:
        self.pairs = pairs
        self.chains = [chain_id(*each) for each in pairs]
        self.chain, self.each_chain = numbered(self.chains)
        self.standing, self.standings = numbered(thing for _, thing in pairs)

    @cached_property
    def groups(self) -> tuple[IntArray, list[Group]]:
        """The number of each pair's group ``(pairs,)``, and the groups."""
        number, groups = numbered(zip(self.chains, self.standing.tolist(), strict=True))
        return number, [(chain, self.standings[thing]) for chain, thing in groups]


@dataclass(frozen=True, eq=False)
class Batch:
    """Questions, and for each the numbers of its pair and of its stretch.

    ``sorted``: each pair once; ``parts``: each stretch, likewise. ``pair (n,)``, ``part (n,)``:
    which of them a question is about. ``chain (parts,)``: of each stretch, as of the pairs.
    """

    queries: Queries
    sorted: SortedPairs
    parts: list[MoveWindow]
    chain: IntArray
    pair: IntArray
    part: IntArray

    @property
    def pairs(self) -> list[Pair]:
        """Each pair once."""
        return self.sorted.pairs

    @property
    def standings(self) -> list[Obstacle]:
        """What stands in any pair, each once."""
        return self.sorted.standings

    @property
    def standing(self) -> IntArray:
        """Which of the ``standings`` each pair is about."""
        return self.sorted.standing

    @classmethod
    def of(cls, queries: Sequence[PairQuery], chains: Chains) -> Batch:
        """Sort questions, at least one; stretches that are not laid out yet are now."""
        asked = Queries.of(queries)
        pairs, windows = chains.sorted_pairs(asked.pairs), asked.windows
        both = pairs.chain[asked.pair] * len(windows) + asked.window
        # Each chain and window that are asked about: far fewer than questions.
        is_met = np.zeros(len(pairs.each_chain) * len(windows), dtype=bool)
        is_met[both] = True
        chain, window = np.divmod(np.flatnonzero(is_met), len(windows))
        part = (np.cumsum(is_met) - 1)[both]
        parts = [
            chains.window_of(pairs.each_chain[k], *windows[w])
            for k, w in zip(chain.tolist(), window.tolist(), strict=True)
        ]
        return cls(asked, pairs, parts, chain, asked.pair, part)

    def keys(self, of_pairs: Mapping[int, bytes], asked: IntArray) -> list[Key]:
        """Return everything that decides the answers to the questions ``asked (k,)``.

        ``of_pairs`` says it of their pairs, by number.
        """
        of_parts = [part.key for part in self.parts]
        pair, part = self.pair[asked].tolist(), self.part[asked].tolist()
        return [(of_parts[i], of_pairs[k]) for i, k in zip(part, pair, strict=True)]

    def groups(self, asked: IntArray) -> dict[Group, IntArray]:
        """Return which of the questions ``asked (k,)`` are about each group."""
        number, groups = self.sorted.groups
        of_each = number[self.pair[asked]]
        return {groups[k]: asked[of_each == k] for k in each_once(of_each).tolist()}
