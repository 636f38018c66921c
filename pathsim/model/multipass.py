"""A seam made in several passes along one line or arc, as seams and moves in between."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import sound
from pathsim.model.bead import Bead
from pathsim.model.move import LONGEST_STAND, Move, MoveKind, fastest
from pathsim.model.places import Places, Way
from pathsim.model.scenery import Point
from pathsim.model.schedule import Schedule
from pathsim.model.seam_line import SeamLine, in_order, require_between
from pathsim.model.weave import Weave
from pathsim.model.written import Written
from pathsim.transforms import Array, pose, rotation_about, translation

#: Farthest that a pass may be off the taught line, m, and most that it may lean, rad.
FARTHEST_OFF, MOST_LEAN = 0.1, float(np.radians(60.0))
MOST_PASSES = 50
#: How far the torch is lifted from pass to pass at least, m.
LEAST_LIFT = 1e-3
#: Two places within this are one, m; directions likewise, as a sine.
_SAME = 1e-7
#: A torch within this of the seam's direction has no left, as a sine.
_ALONG = 1e-3


@dataclass(frozen=True)
class Pass:
    """One pass: where it lies off the taught line, how the torch leans, and what is its own.

    ``left``, ``up`` m: seen along the taught line with the torch upright, also where the pass is
    ``reversed``. ``lean_left`` rad: the torch, not the wire's end, leans so much more to the left
    than taught; ``lean_ahead``: ahead, seen along the pass's own travel. ``speed`` m/s, ``weave``,
    ``crater`` s, ``schedule``: the line's where None. ``leg``, ``height`` m: how large its bead
    is, where no wire feed tells. Raises CellError when it cannot be meant.
    """

    name: str
    left: float = 0.0
    up: float = 0.0
    lean_left: float = 0.0
    lean_ahead: float = 0.0
    reversed: bool = False
    speed: float | None = None
    weave: Weave | None = None
    crater: float | None = None
    schedule: Schedule | None = None
    leg: float | None = None
    height: float | None = None

    def __post_init__(self) -> None:
        of = f"pass {sound.shown(self.name)}"
        sound.text("pass: name", self.name)
        for name, unit, most in (
            ("left", "m", FARTHEST_OFF), ("up", "m", FARTHEST_OFF),
            ("lean_left", "rad", MOST_LEAN), ("lean_ahead", "rad", MOST_LEAN),
        ):  # fmt: skip
            sound.number(f"{of}: {name}", getattr(self, name), unit, low=-most, high=most)
        sound.flag(f"{of}: reversed", self.reversed)
        if self.speed is not None:
            most = fastest(MoveKind.LINEAR, arc_on=True)
            sound.number(f"{of}: speed", self.speed, "m/s", above=0.0, high=most)
        if self.weave is not None:
            sound.record(f"{of}: weave", self.weave, Weave, "a Weave or None")
        if self.crater is not None:
            sound.number(f"{of}: crater", self.crater, "s", low=0.0, high=LONGEST_STAND)
        if self.schedule is not None:
            sound.record(f"{of}: schedule", self.schedule, Schedule, "a Schedule or None")
        self.bead  # noqa: B018 - its sizes are looked at here

    @property
    def bead(self) -> Bead:
        """What it leaves standing."""
        lean = -self.lean_left if self.reversed else self.lean_left
        return Bead(self.name, self.leg, self.height, lean, self.lean_ahead)

    @property
    def _lean_ahead(self) -> float:
        """Lean along the taught line, rad: a reversed pass travels the other way."""
        return -self.lean_ahead if self.reversed else self.lean_ahead

    @property
    def is_as_taught(self) -> bool:
        """Tell whether it lies on the taught line with the torch as taught."""
        return not (self.left or self.up or self.lean_left or self.lean_ahead)

    def of_seam(self, seam: Move) -> Move:
        """Return the line's seam with what this pass has of its own."""
        return replace(
            seam,
            speed=seam.speed if self.speed is None else self.speed,
            weave=seam.weave if self.weave is None else self.weave,
            crater=seam.crater if self.crater is None else self.crater,
            schedule=seam.schedule if self.schedule is None else self.schedule,
            leaves=self.bead,
        )

    def placed(self, T: Array, along: Array) -> Array:
        """Return where the pass has the tool ``(4, 4)``, m, from where it was taught.

        ``along (3,)``: unit, of the taught line. Raises MotionError where the torch lies along it.
        """
        left, up = sides(T, along)
        R = rotation_about(left, self._lean_ahead) @ rotation_about(along, -self.lean_left)
        return pose(R @ T[:3, :3], T[:3, 3] + self.left * left + self.up * up)


def sides(T: Array, along: Array) -> tuple[Array, Array]:
    """Return unit vectors ``(3,)`` to the left and up of a tool at ``T (4, 4)`` that goes along.

    Up is back along the wire, square to the travel. MotionError where the torch lies along it.
    """
    back = -T[:3, 2]
    across = back - (back @ along) * along
    size = float(np.linalg.norm(across))
    if size < _ALONG:
        raise MotionError("the torch points along the line, which then has no left and no up")
    up = across / size
    return np.cross(up, along), up


@dataclass(frozen=True)
class Multipass(SeamLine):
    """``seam``, welded in ``passes`` in their order.

    Behind each pass but the last the torch goes ``lift`` m straight back along the wire, over and
    down again, at ``between`` m/s with the arc off. The torch leaves from where the last pass ends.
    Each pass leaves a bead that stands from then on. Raises CellError when it cannot be meant.
    """

    passes: tuple[Pass, ...]
    between: float
    lift: float

    word = "multipass"

    def __post_init__(self) -> None:
        of = self._require_seam("multipass", "from pass to pass")
        passes = sound.records(f"{of}: passes", self.passes, Pass, "a Pass")
        if not 1 <= len(passes) <= MOST_PASSES:
            sound.refuse(f"{of}: passes", f"{len(passes)}", f"1 to {MOST_PASSES} of them")
        sound.once(f"{of}: name of a pass", [one.name for one in passes])
        require_between(of, self.between, self.lift, LEAST_LIFT)
        sound.put(self, passes=passes)
        for one in passes:
            if one.of_seam(self.seam).crater and (one.of_seam(self.seam).schedule or _NONE).crater:
                due = "the crater time in one place: the line or its schedule"
                sound.refuse(f"{of}: pass {one.name!r}", "two crater times", due)

    def part_words(self, number: int, of: int) -> str:
        """Say what one of its moves is, for tables."""
        if not number:
            return "between passes"
        return f"pass {number} of {of}, {self.passes[number - 1].name}"

    def laid_out(self, places: Places) -> tuple[list[Move], list[Point]]:
        """Return its plain moves and the points that they need; raises LineError."""
        try:
            way = self._way(places)
            if way.length < _SAME:
                raise self._wrong("the line has no length", "a start and an end apart")
            laying = _Laying(self, places, way)
            for number, one in enumerate(self.passes, 1):
                laying.weld(number, one)
        except MotionError as error:
            raise self._wrong(str(error), "passes beside a line or an arc") from error
        return laying.finished(), laying.points


_NONE = Schedule("none")


@dataclass(frozen=True, eq=False)
class _At:
    """Where the tool is: a point's name, its pose on the part ``(4, 4)`` and share of the line."""

    name: str
    T: Array
    share: float

    def is_at(self, other: _At) -> bool:
        return bool((np.abs(self.T - other.T) < _SAME).all())


class _Laying:
    """The moves of all passes as they are laid, and the points made for them."""

    def __init__(self, line: Multipass, places: Places, way: Way) -> None:
        self._line, self._places, self._way = line, places, way
        self.moves: list[Move] = []
        self.points: list[Point] = []
        self._stands = _At(places.start, way.at(0.0), 0.0)

    def weld(self, number: int, one: Pass) -> None:
        """Add a pass, and before it the way to its start where the torch is not there."""
        seam = self._line.seam
        taught = (self._places.start, seam.target)
        ends = [self._at(one, share, taught[k], f"{one.name} {word}")
                for k, share, word in self._ways(one)]  # fmt: skip
        if not self._stands.is_at(ends[0]):
            self._over(number, one, ends[0])
        via = None
        if self._way.share_via is not None:
            share = self._way.share_via
            via = self._at(one, share, seam.via or "", f"{one.name} via").name
        kind = MoveKind.LINEAR if via is None else MoveKind.ARC
        said = Written(self._line, number, len(self._line.passes))
        self.moves.append(replace(one.of_seam(seam), kind=kind, target=ends[1].name, via=via,
                                  wait=0.0, pauses=(), written=said))  # fmt: skip
        self._stands = ends[1]

    def finished(self) -> list[Move]:
        """Return all moves, each with its place among them; the last has the line's wait."""
        return in_order(self._line.seam, self.moves)

    @staticmethod
    def _ways(one: Pass) -> tuple[tuple[int, float, str], tuple[int, float, str]]:
        """Return which taught end a pass begins and ends at, its share, and what it is called."""
        if one.reversed:
            return (1, 1.0, "start"), (0, 0.0, "end")
        return (0, 0.0, "start"), (1, 1.0, "end")

    def _over(self, number: int, one: Pass, there: _At) -> None:
        """Add the way with the arc off to the start of a pass: back along the wire, over, down."""
        before = "the start" if number == 1 else self._line.passes[number - 2].name
        out = self._lifted(self._stands, f"{before} lifted")
        into = self._lifted(there, f"above {one.name}")
        self._move(out.name)
        if not out.is_at(into):
            self._move(into.name, self._via_over(one, out, into))
        self._move(there.name)

    def _via_over(self, one: Pass, out: _At, into: _At) -> str | None:
        """Return the point that the way over an arc passes, the arm's way back along the part."""
        if self._way.share_via is None or abs(out.share - into.share) < _SAME:
            return None
        share = self._way.share_via
        T = one.placed(self._way.at(share), self._way.travel(share))
        return self._lifted(_At("", T, share), f"over to {one.name}").name

    def _lifted(self, at: _At, words: str) -> _At:
        T = at.T @ translation([0.0, 0.0, -self._line.lift])  # the wire points along the tool's z
        return self._made(T, at.share, words)

    def _at(self, one: Pass, share: float, taught: str, words: str) -> _At:
        """Return a place of a pass: the taught point where it is the same."""
        T = self._way.at(share)
        if one.is_as_taught:
            return _At(taught, T, share)
        return self._made(one.placed(T, self._way.travel(share)), share, words)

    def _made(self, T: Array, share: float, words: str) -> _At:
        name = self._places.own_name(f"{self._line.seam.target}, {words}")
        self.points.append(self._places.point(name, T, self._way.held(share)))
        return _At(name, T, share)

    def _move(self, target: str, via: str | None = None) -> None:
        line = self._line
        kind = MoveKind.LINEAR if via is None else MoveKind.ARC
        said = Written(line, 0, len(line.passes))
        self.moves.append(
            Move(kind, target, line.between, via, line=line.seam.line,
                 wire_end=line.seam.wire_end, written=said)
        )  # fmt: skip
