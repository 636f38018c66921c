"""The chains of a cell, and its moves as they carry pieces past what is measured against them."""

from __future__ import annotations

from functools import cache

from pathsim.clearance.engine import Span
from pathsim.clearance.fast.links import Links, links_key
from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.fast.stretch import Course, Stretched, stretch_key, stretch_knots, within
from pathsim.clearance.moving_chain import ChainName, linkage_name, linkage_of, pieces_on
from pathsim.clearance.rules import Standing
from pathsim.model import Cell, Piece
from pathsim.model.linkage import Linkage
from pathsim.motion import MoveTrack


class Chains:
    """Stretches of moves for the kernels, each laid out once."""

    def __init__(self, cell: Cell, memory: Memory) -> None:
        self._cell, self._memory = cell, memory
        self._linkages: dict[ChainName, Linkage] = {}
        self._links: dict[tuple[ChainName, bytes], Links] = {}
        self._places: dict[ChainName, dict[Piece, int]] = {}
        self._stretches: dict[tuple[ChainName, MoveTrack, Span], Stretched] = {}

    def pieces(self, chain: ChainName) -> tuple[Piece, ...]:
        """Everything that a chain carries."""
        return pieces_on(self._cell, chain, self._linkage(chain).skip)

    def places(self, chain: ChainName) -> dict[Piece, int]:
        """Return the place of each piece in ``pieces``, as in ``Course.reach``."""
        if chain not in self._places:
            self._places[chain] = {piece: k for k, piece in enumerate(self.pieces(chain))}
        return self._places[chain]

    def stretch(
        self, track: MoveTrack, piece: Piece, standing: Standing, window: Span
    ) -> Stretched:
        """Return a stretch of a move as the chain of a pair goes through it."""
        return self.stretch_of(linkage_name(piece, standing), track, window)

    def stretch_of(self, name: ChainName, track: MoveTrack, window: Span) -> Stretched:
        """Return a stretch of a move as a chain goes through it."""
        key = (name, track, window)
        known = self._stretches.get(key)
        if known is None:
            known = self._stretches[key] = self._lay_out(name, track, window)
        return known

    def _lay_out(self, name: ChainName, track: MoveTrack, window: Span) -> Stretched:
        links = self.links_on(name, track)
        part = within(track, window)
        knots = cache(lambda: stretch_knots(track, part, links.linkage))
        key = track.kept.once((links.digest, part), lambda: stretch_key(links, *knots()))
        course = self._memory.course(key, lambda: Course.of(links, *knots()))
        return Stretched(name, course, window.start, key)

    def _linkage(self, name: ChainName) -> Linkage:
        if name not in self._linkages:
            self._linkages[name] = linkage_of(self._cell, name)
        return self._linkages[name]

    def links_on(self, name: ChainName, track: MoveTrack) -> Links:
        """Links of a chain on a move; their levers grow with how far slides go on it."""
        stroke = self._cell.axes.stroke(track.q)
        key = (name, stroke.tobytes())
        if key not in self._links:
            linkage, pieces = self._linkage(name), self.pieces(name)
            self._links[key] = self._memory.links(
                links_key(linkage, pieces, stroke), lambda: Links.of(linkage, pieces, stroke)
            )
        return self._links[key]
