"""Contact that a move is there for: a touch search, or a visit to a station of the cell.

Wanted is only that one named piece of the torch meets one named body, of a station that consists
of several also those that it names. Whatever else these meet, and whatever else meets them, is
measured like anything.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from pathsim.model import sound
from pathsim.model.torch import WIRE

#: Longest overtravel of a search, and deepest way into a station, m.
LONGEST_OVERTRAVEL, DEEPEST = 0.1, 0.5
#: A search at more than this is none, m/s.
FASTEST_SEARCH = 0.25


@dataclass(frozen=True)
class Search:
    """A touch search: a straight slow move that ends where ``piece`` meets ``body``.

    The move's target is taught where the two touch with the body as it is drawn. ``overtravel``
    (m): so much farther the arm goes on when it meets nothing. ``margin`` (m): clearance asked for
    on the search and right behind it; that of air moves when not said. Raises CellError.
    """

    body: str
    piece: str = WIRE
    overtravel: float = 0.0
    margin: float | None = None

    def __post_init__(self) -> None:
        sound.text("search: body", self.body)
        sound.text("search: piece", self.piece)
        most = LONGEST_OVERTRAVEL
        sound.number("search: overtravel", self.overtravel, "m", low=0.0, high=most)
        if self.margin is not None:
            sound.number("search: margin", self.margin, "m", low=0.0, high=1.0)


class StationKind(StrEnum):
    """What a station of the cell does to the torch."""

    CLEANER = "cleaner"
    CUTTER = "cutter"
    GAUGE = "gauge"


@dataclass(frozen=True)
class Station:
    """A body that serves the torch: ``piece`` may touch ``body`` while a move says so.

    ``depth`` (m): only while the tip is so near the point taught inside. ``margin`` (m): clearance
    asked for on moves that use it; that of air moves when not said. ``cuts_to`` (m): the stick-out
    that a cutter leaves. ``also``: names of other bodies that it consists of, which ``piece`` may
    touch there as it may the first. Raises CellError.
    """

    body: str
    kind: StationKind
    piece: str
    depth: float
    margin: float | None = None
    cuts_to: float | None = None
    also: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        of = f"station {sound.shown(self.body)}"
        sound.text("station: body", self.body)
        kind = sound.word(f"{of}: kind", self.kind, StationKind)
        sound.text(f"{of}: piece", self.piece)
        sound.number(f"{of}: depth", self.depth, "m", above=0.0, high=DEEPEST)
        if self.margin is not None:
            sound.number(f"{of}: margin", self.margin, "m", low=0.0, high=1.0)
        if self.cuts_to is not None:
            if kind is not StationKind.CUTTER:
                sound.refuse(f"{of}: cuts_to", self.cuts_to, "it of a cutter only")
            sound.number(f"{of}: cuts_to", self.cuts_to, "m", above=0.0, high=0.15)
        also = tuple(self.also)
        for name in also:
            sound.text(f"{of}: also", name)
        sound.once(f"{of}: body of it", (self.body, *also))
        sound.put(self, kind=kind, also=also)

    @property
    def bodies(self) -> tuple[str, ...]:
        """All bodies that it consists of, by which it is named first."""
        return (self.body, *self.also)

    @property
    def words(self) -> str:
        """Its bodies, for sentences: ``brush and the housing``."""
        return " and the ".join(self.bodies)


@dataclass(frozen=True)
class Wanted:
    """Which contact a move wants, of a search and a station alike.

    ``reach`` (m): the two may touch while the tip is so near the point taught there. ``end`` (m):
    how much of the wire, from its end, may touch; inf: all of ``piece``. ``is_search``: else it is
    a station. ``bodies``: that ``piece`` may meet, of a search one.
    """

    piece: str
    bodies: tuple[str, ...]
    reach: float
    end: float
    margin: float | None
    is_search: bool

    @property
    def body(self) -> str:
        """The one that it is named by."""
        return self.bodies[0]

    @classmethod
    def of_search(cls, search: Search, wire_end: float) -> Wanted:
        """Return what a search wants: of the wire its end, longer by what goes on behind."""
        end = wire_end + search.overtravel if search.piece == WIRE else math.inf
        return cls(search.piece, (search.body,), wire_end, end, search.margin, True)

    @classmethod
    def of_station(cls, station: Station) -> Wanted:
        """Return what a station wants."""
        return cls(station.piece, station.bodies, station.depth, math.inf, station.margin, False)
