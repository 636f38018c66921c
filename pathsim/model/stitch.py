"""A stitch: on and off lengths along one line or arc, as seams and moves in between."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pathsim.errors import MotionError
from pathsim.model import sound
from pathsim.model.move import Move, MoveKind
from pathsim.model.places import Places, Way
from pathsim.model.scenery import Point
from pathsim.model.seam_line import SeamLine, in_order, require_between
from pathsim.model.written import Written
from pathsim.transforms import Array, translation

#: On and off lengths that can be meant, m.
SHORTEST, LONGEST = 1e-3, 10.0
MOST_STITCHES = 500
#: A last stitch that would be shorter than this share of the others is left out.
LEAST_LAST = 0.5
_END = 1e-6


@dataclass(frozen=True)
class Stitch(SeamLine):
    """``seam``, of which only lengths of ``on`` m are welded, ``off`` m apart.

    Between two of them the arc is off: the tip goes along the joint at ``between`` m/s, or, with a
    ``lift`` (m), straight back along the wire, over and down again. The first stitch begins
    where the line does. The last may be shorter; below half an ``on`` it is left out. The torch
    leaves from the end of the last one, wherever the line ends. Raises CellError when it cannot
    be meant.
    """

    on: float
    off: float
    between: float
    lift: float = 0.0

    word = "stitch"

    def __post_init__(self) -> None:
        of = self._require_seam("stitch", "from stitch to stitch")
        for name in ("on", "off"):
            value = getattr(self, name)
            sound.number(f"{of}: {name}", value, "m", low=SHORTEST, high=LONGEST)
        require_between(of, self.between, self.lift, 0.0)

    def part_words(self, number: int, of: int) -> str:
        """Say what one of its moves is, for tables."""
        return f"stitch {number} of {of}" if number else "between stitches"

    def lengths(self, whole: float) -> list[tuple[float, float]]:
        """Return where each stitch begins and ends on a line of ``whole`` m, m from its start."""
        found = [(0.0, min(self.on, whole))]
        step = self.on + self.off
        while len(found) * step < whole - _END and len(found) <= MOST_STITCHES:
            begin = len(found) * step
            end = min(begin + self.on, whole)
            if end - begin < LEAST_LAST * self.on:
                break
            found.append((begin, whole if whole - end < _END else end))
        return found

    def laid_out(self, places: Places) -> tuple[list[Move], list[Point]]:
        """Return its plain moves and the points that they need; raises LineError."""
        try:
            way = self._way(places)
        except MotionError as error:
            raise self._wrong(str(error), "an arc through three places") from error
        if way.length < self.on:
            came = f"the line is {way.length * 1e3:.1f} mm long, shorter than one stitch"
            raise self._wrong(came, f"at least 'on: {self.on * 1e3:g} mm'")
        lengths = self.lengths(way.length)
        if len(lengths) > MOST_STITCHES:
            came = f"more than {MOST_STITCHES} stitches on {way.length * 1e3:.0f} mm"
            raise self._wrong(came, "longer on and off lengths: is the unit right?")
        laying = _Laying(self, places, way, len(lengths))
        for number, (begin, end) in enumerate(lengths, 1):
            if number > 1:
                laying.over(number - 1, lengths[number - 2][1], begin)
            laying.weld(number, begin, end)
        return laying.finished(), laying.points


class _Laying:
    """The moves of one stitch as they are laid, and the points made for them."""

    def __init__(self, stitch: Stitch, places: Places, way: Way, count: int) -> None:
        self._stitch, self._places, self._way, self._count = stitch, places, way, count
        self.moves: list[Move] = []
        self.points: list[Point] = []

    def weld(self, number: int, begin: float, end: float) -> None:
        """Add a stitch from where the torch stands, at ``begin`` m, to ``end`` m."""
        seam = self._stitch.seam
        name = self._at(end, f"stitch {number} end")
        via = self._via(begin, end, f"stitch {number} via")
        kind = MoveKind.LINEAR if via is None else MoveKind.ARC
        said = Written(self._stitch, number, self._count)
        self.moves.append(replace(seam, kind=kind, target=name, via=via, wait=0.0, pauses=(),
                                  written=said))  # fmt: skip

    def over(self, number: int, begin: float, end: float) -> None:
        """Add the way with the arc off from ``begin`` to ``end`` m, behind stitch ``number``."""
        of = f"stitch {number + 1}"
        there = self._at(end, f"{of} start")
        if not self._stitch.lift:
            via = self._via(begin, end, f"{of} over")
            self._move(there, via, along_weld=True)
            return
        out = self._at(begin, f"stitch {number} lifted", lifted=True)
        into = self._at(end, f"{of} above", lifted=True)
        self._move(out)
        self._move(into, self._via(begin, end, f"{of} over", lifted=True))
        self._move(there)

    def finished(self) -> list[Move]:
        """Return all moves, each with its place among them; the last has the line's wait."""
        return in_order(self._stitch.seam, self.moves)

    def _move(self, target: str, via: str | None = None, *, along_weld: bool = False) -> None:
        stitch = self._stitch
        kind = MoveKind.LINEAR if via is None else MoveKind.ARC
        self.moves.append(
            Move(
                kind, target, stitch.between, via, line=stitch.seam.line,
                wire_end=stitch.seam.wire_end, along_weld=along_weld,
                written=Written(stitch, 0, self._count),
            )
        )  # fmt: skip

    def _at(self, length: float, words: str, *, lifted: bool = False) -> str:
        """Return the name of a point at ``length`` m along the line, made if it is none taught."""
        share = length / self._way.length
        if share >= 1.0 and not lifted:
            return self._stitch.seam.target
        return self._made(share, words, lifted=lifted)

    def _via(self, begin: float, end: float, words: str, *, lifted: bool = False) -> str | None:
        """Return the point that a piece of an arc passes; None on a line.

        The taught one where the piece passes it: there the tool's turning has a corner.
        """
        taught = self._way.share_via
        if taught is None:
            return None
        low, high = begin / self._way.length, end / self._way.length
        is_inside = low + 1e-3 < taught < high - 1e-3
        if is_inside and not lifted:
            return self._stitch.seam.via
        return self._made(taught if is_inside else (low + high) / 2, words, lifted=lifted)

    def _made(self, share: float, words: str, *, lifted: bool) -> str:
        T: Array = self._way.at(share)
        if lifted:  # back along the wire, which points along the tool's z
            T = T @ translation([0.0, 0.0, -self._stitch.lift])
        name = self._places.own_name(f"{self._stitch.seam.target}, {words}")
        self.points.append(self._places.point(name, T, self._way.held(share)))
        return name
