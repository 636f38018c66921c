"""Subprograms: a named list of lines that runs again, its points shifted or not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from pathsim.arm.inverse import at_all_turns, at_nearest_turns, nearest_first
from pathsim.arm.postures import ANY_POSTURE, has_postures, posture_of, postures_of
from pathsim.errors import LineError
from pathsim.model import sound
from pathsim.model.move import Move, MoveKind
from pathsim.model.pause import Pause
from pathsim.model.places import Places
from pathsim.model.program import Program
from pathsim.model.scenery import Point
from pathsim.model.written import Written
from pathsim.transforms import Array, inverse, pose, rotation_from_angles

MOST_RUNS = 200
#: A shift of more than this is in a wrong unit, m.
_FARTHEST = 100.0
WORLD = "world"


@dataclass(frozen=True)
class Shift:
    """By how much points are moved: ``by`` m, then turned by ``turned`` rad about the frame's axes.

    Turned about the fixed x, then y, then z of the frame, round its origin, before it is moved.
    """

    by: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turned: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def __post_init__(self) -> None:
        for name, unit, most in (("by", "m", _FARTHEST), ("turned", "rad", 4 * np.pi)):
            for value in getattr(self, name):
                sound.number(f"shift: {name}", value, unit, low=-most, high=most)

    @property
    def T(self) -> Array:  # noqa: N802 - a pose
        """Takes places of the frame to where they are shifted ``(4, 4)``."""
        return pose(rotation_from_angles("fixed x-y-z", self.turned), self.by)

    @property
    def is_none(self) -> bool:
        """Tell whether it moves nothing."""
        return not any(self.by) and not any(self.turned)


@dataclass(frozen=True)
class Run:
    """``lines`` of the subprogram ``name``, ``times`` over.

    All points of it are shifted by ``shift`` in the axes of ``frame`` (world, base, the name of a
    group or body), and by ``step`` once more at each repetition. ``wait``, ``pauses``: what the arm
    stands for behind all of it. A subprogram runs no other. Raises CellError.
    """

    name: str
    lines: tuple[Move, ...]
    times: int = 1
    shift: Shift = field(default_factory=Shift)
    step: Shift = field(default_factory=Shift)
    frame: str = WORLD
    wait: float = 0.0
    pauses: tuple[Pause, ...] = ()
    line: int | None = None

    word = "subprogram"

    def __post_init__(self) -> None:
        of = f"run {sound.shown(self.name)}"
        sound.text("run: name", self.name)
        lines = sound.records(f"{of}: lines", self.lines, Move, "a Move")
        if not lines:
            sound.refuse(f"{of}: lines", lines, "at least one move")
        if any(m.written is not None and isinstance(m.written.said, Run) for m in lines):
            sound.refuse(f"{of}: lines", "a run", "no run within a subprogram")
        if lines[0].joined:
            sound.refuse(f"{of}: lines", "a joined seam", "a first line that goes on from nothing")
        sound.whole(f"{of}: times", self.times, 1, MOST_RUNS)
        sound.put(self, lines=lines)

    def part_words(self, number: int, of: int) -> str:
        """Say what one of its moves is, for tables."""
        return f"'{self.name}'" if of == 1 else f"'{self.name}', {number} of {of}"

    @property
    def move(self) -> Move:
        """The whole line as one move, which a cell lays out."""
        target = self.lines[-1].target
        return Move(MoveKind.JOINT, target, 1.0, line=self.line, written=Written(self))

    @property
    def named(self) -> frozenset[str]:
        """Points that its line names, as taught."""
        names = (n for m in self.lines for n in (m.target, m.via) if n is not None)
        return frozenset(names)

    @property
    def shifts(self) -> bool:
        """Tell whether its points are elsewhere than taught, in any of its repetitions."""
        return not (self.shift.is_none and self.step.is_none)

    def waiting(self, seconds: float, pauses: tuple[Pause, ...] = ()) -> Run:
        """Return it with so many seconds more of standing behind it."""
        return replace(self, wait=self.wait + seconds, pauses=(*self.pauses, *pauses))

    def renamed(self, names: dict[str, str]) -> Run:
        """Never asked: a subprogram runs no other."""
        raise NotImplementedError

    def laid_out(self, places: Places) -> tuple[list[Move], list[Point]]:
        """Return its plain moves and the points that they need; raises LineError."""
        moves: list[Move] = []
        points: list[Point] = []
        at, known = places.start, dict(places.points)
        for number in range(1, self.times + 1):
            here = replace(places, points=known, start=at)
            names, new = self._shifted(here, number)
            points += new
            known |= {point.name: point for point in new}
            for line in (_renamed(move, names) for move in self.lines):
                laid = [line]
                if line.tack and line.target != at:
                    raise self._wrong(f"its tack is at {line.target!r}, the torch at {at!r}")
                if line.written is not None:
                    here = replace(places, points=known, start=at)
                    laid, new = line.written.said.laid_out(here)
                    points += new
                    known |= {point.name: point for point in new}
                moves += [self._as_part(move, number) for move in laid]
                at = moves[-1].target
        return self._finished(moves), points

    def _as_part(self, move: Move, number: int) -> Move:
        own = Written(self, number, self.times)
        if move.written is None:
            return replace(move, written=own)
        return replace(move, written=replace(move.written, within=own))

    def _finished(self, moves: list[Move]) -> list[Move]:
        """Return all moves, each with its place among them; the last has the line's wait."""
        placed = []
        for at, move in enumerate(moves):
            assert move.written is not None  # noqa: S101 - all were made here
            own = replace(move.written.outermost, at=at, count=len(moves))
            inner = move.written if move.written.within is None else None
            said = own if inner is not None else replace(move.written, within=own)
            placed.append(replace(move, written=said))
        last = placed[-1]
        wait, pauses = last.wait + self.wait, (*last.pauses, *self.pauses)
        placed[-1] = replace(last, wait=wait, pauses=pauses)
        return placed

    def _shifted(self, places: Places, number: int) -> tuple[dict[str, str], list[Point]]:
        """Return the points of one repetition, and their names by those that were taught."""
        T = np.linalg.matrix_power(self.step.T, number - 1) @ self.shift.T
        if np.array_equal(T, np.eye(4)):
            return {}, []
        if self.frame not in places.frames:
            raise self._wrong(f"there is no frame {self.frame!r}")
        names: dict[str, str] = {}
        points = []
        for name in dict.fromkeys(n for m in self.lines for n in (m.target, m.via) if n):
            suffix = self.name if self.times == 1 else f"{self.name} {number}"
            names[name] = places.own_name(f"{name}, {suffix}")
            points.append(_moved(places, name, names[name], self.frame, T, self.line))
        return names, points

    def _wrong(self, came: str) -> LineError:
        due = "a subprogram that fits where it runs"
        return LineError(self.line, self.name, came, due)


def subprograms_of(program: Program) -> tuple[str, ...]:
    """Return the names of all subprograms that a program runs."""
    written = (move.written.outermost.said for move in program.moves if move.written is not None)
    return tuple(dict.fromkeys(said.name for said in written if isinstance(said, Run)))


def shifts_runs(program: Program) -> bool:
    """Tell whether a program runs a subprogram elsewhere than where it was taught."""
    written = (move.written.outermost.said for move in program.moves if move.written is not None)
    runs = (said for said in written if isinstance(said, Run))
    return any(run.shifts for run in runs)


def runs_shifted_in(program: Program, frame: str) -> tuple[str, ...]:
    """Return the names of subprograms that a program shifts in the axes of a frame."""
    written = (move.written.outermost.said for move in program.moves if move.written is not None)
    runs = (said for said in written if isinstance(said, Run))
    return tuple(dict.fromkeys(run.name for run in runs if run.frame == frame))


def _renamed(move: Move, names: dict[str, str]) -> Move:
    """Return a line of a subprogram that goes to other points."""
    via = None if move.via is None else names.get(move.via, move.via)
    if move.written is not None:
        return move.written.said.renamed(names).move
    return replace(move, target=names.get(move.target, move.target), via=via)


def _moved(
    places: Places, name: str, new: str, frame: str, T_shift: Array, line: int | None
) -> Point:
    """Return a point elsewhere: its pose shifted, the arm in the posture in which it was taught.

    Of several such that within limits which is nearest to the taught one. Where there is none it
    has its pose and posture alone, and whoever goes there says that it is out of reach.
    """
    point, held = places.points[name], places.held_at(name)
    F = places.world_frame(frame, held)
    if F is None:
        came, due = f"nobody said how the table stands at {name!r}", "its value in the points file"
        raise LineError(line, new, came, due)
    T_world = F @ T_shift @ inverse(F) @ places.T_world_base @ places.in_base(name)
    T_base = inverse(places.T_world_base) @ T_world
    if point.q is None:
        return Point(new, None, T_base, point.held, point.posture, point.about, derived=True)
    arm, q = places.arm, point.q[: places.arm.dof]
    first = None if arm.held is None else float(q[arm.held])
    flange = T_base @ inverse(places.T_flange_tcp)
    found = arm.inverse(flange, held=first, T_flange_tcp=places.T_flange_tcp, near=q)
    posture = ANY_POSTURE
    if has_postures(arm) and len(found):
        posture = posture_of(arm, q)
        stands = [one == posture for one in postures_of(arm, found)]
        found = found[np.array(stands, bool)]
    if len(found):
        found = at_nearest_turns(arm, at_all_turns(arm, found), q)
    if not len(found):
        return Point(new, None, T_base, held if places.held else None, posture, derived=True)
    best = nearest_first(arm, found, q)[0]
    return Point(new, np.concatenate([best, point.q[arm.dof :]]), derived=True)
