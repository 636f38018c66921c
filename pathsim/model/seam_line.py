"""A line of the program that welds along one seam in several moves: a stitch, a multipass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self

from pathsim.errors import LineError
from pathsim.model import sound
from pathsim.model.move import Move, MoveKind, fastest
from pathsim.model.pause import Pause
from pathsim.model.places import Places, Way
from pathsim.model.written import Written

#: Largest lift of the torch from one part of the line to the next, m.
MOST_LIFT = 1.0


@dataclass(frozen=True)
class SeamLine:
    """``seam``: the whole line as a plain seam, with what all its parts have from it."""

    seam: Move

    @property
    def move(self) -> Move:
        """The whole line as one move, which a cell lays out."""
        return replace(self.seam, written=Written(self))  # type: ignore[arg-type]

    @property
    def named(self) -> frozenset[str]:
        """Points that it names, as taught."""
        return frozenset(n for n in (self.seam.target, self.seam.via) if n is not None)

    def waiting(self, seconds: float, pauses: tuple[Pause, ...] = ()) -> Self:
        """Return it with so many seconds more of standing behind it."""
        return replace(self, seam=self.seam.waiting(seconds, pauses))

    def renamed(self, names: dict[str, str]) -> Self:
        """Return it at other points."""
        seam = self.seam
        via = None if seam.via is None else names.get(seam.via, seam.via)
        return replace(
            self, seam=replace(seam, target=names.get(seam.target, seam.target), via=via)
        )

    def _require_seam(self, word: str, parts: str) -> str:
        """Require a plain seam, which keeps no position; return what the line is called.

        ``parts``: what its parts are, in the words of "from pass to pass". Raises CellError.
        """
        seam = sound.record(f"{word}: seam", self.seam, Move, "a Move")
        of = f"{word} to {seam.target!r}"
        if not seam.arc_on or seam.tack or seam.joined or seam.written is not None:
            sound.refuse(f"{of}: seam", seam.label, "a plain seam, not joined")
        if seam.position is not None:
            due = f"None: the table keeps no position {parts}"
            sound.refuse(f"{of}: position", seam.position, due)
        return of

    def _way(self, places: Places) -> Way:
        """Return the taught line. Raises LineError without the table, MotionError as ``Way``."""
        seam = self.seam
        for name in (places.start, seam.via, seam.target):
            if name is not None and places.table is not None and places.held_at(name) is None:
                came = f"nobody said how the table stands at {name!r}"
                raise self._wrong(came, "its value with the point")
        return Way(places, places.start, seam.via, seam.target)

    def _wrong(self, came: str, expected: str) -> LineError:
        return LineError(self.seam.line, self.seam.target, came, expected)


def require_between(of: str, between: float, lift: float, least_lift: float) -> None:
    """Require what the torch does with the arc off, m/s and m. Raises CellError."""
    most = fastest(MoveKind.LINEAR, arc_on=False)
    sound.number(f"{of}: between", between, "m/s", above=0.0, high=most)
    sound.number(f"{of}: lift", lift, "m", low=least_lift, high=MOST_LIFT)


def in_order(seam: Move, moves: Sequence[Move]) -> list[Move]:
    """Return a line's moves, each with its place among them; the last has the line's wait."""
    count, placed = len(moves), []
    for at, move in enumerate(moves):
        assert move.written is not None  # noqa: S101 - all were made by the line
        placed.append(replace(move, written=replace(move.written, at=at, count=count)))
    placed[-1] = replace(placed[-1], wait=seam.wait, pauses=seam.pauses)
    return placed
