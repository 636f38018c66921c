"""The order of a program: air moves that go to a weld and weld nothing, and points left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from pathsim.advice.change import Change
from pathsim.advice.sites import straight_speed
from pathsim.advice.trial import Evaluator
from pathsim.findings.weld_places import fixed_points, is_at_part, weld_points
from pathsim.model import Cell, Move, MoveKind
from pathsim.motion import MoveTrack
from pathsim.motion.welds import names_of, points_at, welds


@dataclass(frozen=True)
class Misled:
    """A move without the arc, by its index, that goes to a point of a weld and welds nothing there.

    ``was_welded``: the weld there was made before. ``starts_off``: the seam that comes next and
    where it starts, if that is off every part: two moves may be the wrong way round.
    """

    index: int
    point: str
    was_welded: bool
    starts_off: tuple[int, str] | None = None

    @property
    def words(self) -> str:
        """What is out of order."""
        if self.was_welded:
            return f"The program goes back to '{self.point}' after the weld."
        said = f"The program goes to '{self.point}' and welds nothing from there."
        if self.starts_off is not None:
            index, start = self.starts_off
            said += (
                f" The seam of move {index + 1} starts at '{start}', off the part: check the order "
                "of the moves."
            )
        return said

    @property
    def cure(self) -> str:
        """What to do where no point that is taught serves."""
        if self.starts_off is not None:
            return ""
        return f" Let move {self.index + 1} go to a retract point clear of the part."


@dataclass(frozen=True, eq=False)
class Taught:
    """A change that uses a point which is taught and not used, and what to do, in words."""

    kind: str
    words: str
    change: Change


def misled(cell: Cell, index: int) -> Misled | None:
    """Find a move that goes to a weld out of order: the one at ``index``, or the one before it.

    A move that sets out from such a point pays for the move that led there.
    """
    moves = cell.program.moves
    for at in (index, index - 1):
        if at < 0 or moves[at].is_fixed or moves[at].target not in weld_points(cell):
            continue
        if at + 1 < len(moves) and moves[at + 1].is_fixed:
            continue
        target = moves[at].target
        done = welds(replace(cell.program, moves=moves[:at]))
        if target in points_at(cell, names_of(done)):
            return Misled(at, target, was_welded=True)
        return Misled(at, target, was_welded=False, starts_off=_next_seam_off(cell, at))
    return None


def _next_seam_off(cell: Cell, at: int) -> tuple[int, str] | None:
    """Return the first seam behind a move, and its start, where that is off every part."""
    moves = cell.program.moves
    for index in range(at + 1, len(moves)):
        if moves[index].arc_on:
            start = moves[index - 1].target
            return None if is_at_part(cell, start) else (index, start)
    return None


def unused_points(cell: Cell) -> list[str]:
    """Return taught points that no move goes to or by, in the order in which they were taught."""
    program = cell.program
    used = {program.start, *(m.target for m in program.moves), *(m.via for m in program.moves)}
    return [name for name in cell.points if name not in used and name not in fixed_points(cell)]


def in_its_place(evaluator: Evaluator, wrong: Misled) -> Iterator[Taught]:
    """Yield changes that go to an unused point where the program goes to a weld out of order."""
    cell = evaluator.cell
    move = cell.program.moves[wrong.index]
    if move.kind is MoveKind.ARC:
        return
    for name in unused_points(cell):
        words = (
            f"{wrong.words} Did you mean '{name}', which is taught and not used? Let move "
            f"{wrong.index + 1} go to '{name}'."
        )
        instead = replace(move, target=name, line=None)
        yield Taught("order", words, Change(cell, {}, (), ((wrong.index, instead),)))


def by_taught_points(evaluator: Evaluator, track: MoveTrack) -> Iterator[Taught]:
    """Yield changes that put a move to an unused point before an air move, or split it there."""
    tracks, cell, at = evaluator.before.trajectory.tracks, evaluator.cell, track.index
    if track.move.is_fixed or track.move.kind is MoveKind.ARC:
        return
    speed = straight_speed(tracks)
    leaves = at > 0 and tracks[at - 1].move.at_work and track.continuous
    comes = at + 1 < len(tracks) and tracks[at + 1].move.at_work
    is_joint = track.move.kind is MoveKind.JOINT
    for name in unused_points(cell):
        taught = f"'{name}' is taught and not used:"
        there = replace(track.move, target=name, rounding=0.0, wait=0.0, pauses=(), line=None)
        if leaves:
            words = f"{taught} leave the weld for it in a straight line, before move {at + 1}."
            straight = Move(MoveKind.LINEAR, name, speed)
            yield Taught("retract", words, Change(cell, {}, ((at, straight),)))
        if comes and is_joint:
            down = Move(
                MoveKind.LINEAR,
                track.move.target,
                speed,
                wait=track.move.wait,
                pauses=track.move.pauses,
            )
            words = (
                f"{taught} go there first in move {at + 1}, then to the weld in a straight line."
            )
            yield Taught("approach", words, Change(cell, {}, ((at, there),), ((at, down),)))
        if not leaves and not comes:
            words = f"{taught} go by it in move {at + 1}."
            yield Taught("via", words, Change(cell, {}, ((at, there),)))
