"""What a move is of a line of the program that is several moves: a stitch, a tack, a pass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from pathsim.model.move import Move
    from pathsim.model.pause import Pause
    from pathsim.model.places import Places
    from pathsim.model.scenery import Point


class Line(Protocol):
    """A line of the program as it was written, that stands for several moves."""

    @property
    def word(self) -> str:
        """What the trade calls one of what it is made of: "stitch", "pass"."""
        ...

    @property
    def move(self) -> Move:
        """The whole line as one move, which a cell lays out."""
        ...

    def laid_out(self, places: Places) -> tuple[list[Move], list[Point]]:
        """Return its plain moves and the points that they need; raises LineError."""
        ...

    @property
    def named(self) -> frozenset[str]:
        """Points that it names, as taught."""
        ...

    def part_words(self, number: int, of: int) -> str:
        """Say what one of its moves is, for tables."""
        ...

    def waiting(self, seconds: float, pauses: tuple[Pause, ...] = ()) -> Line:
        """Return it with so many seconds more of standing behind it."""
        ...

    def renamed(self, names: dict[str, str]) -> Line:
        """Return it at other points: by their names here those that it shall go to."""
        ...


@dataclass(frozen=True)
class Written:
    """Which part of a line a move is: ``number`` of ``of`` stitches, 0 when it is between them.

    ``at``: which of the line's ``count`` moves it is, from 0. A move with a count of 0 stands for
    the whole line, and is laid out once the cell knows its points. ``within``: what the line itself
    is a part of.
    """

    said: Line
    number: int = 0
    of: int = 0
    at: int = 0
    count: int = 0
    within: Written | None = None

    def __repr__(self) -> str:
        return f"Written({self.words!r}, {self.at + 1} of {self.count} moves)"

    @property
    def words(self) -> str:
        """What it is, for tables."""
        own = self.said.part_words(self.number, self.of)
        return own if self.within is None else f"{own}, {self.within.words}"

    @property
    def outermost(self) -> Written:
        """The line as it stands in the program."""
        return self if self.within is None else self.within.outermost
