"""A change to a program: points taught anew or otherwise, and moves put in; never a weld."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from pathsim.errors import WeldTouched
from pathsim.findings.weld_places import fixed_points
from pathsim.model import Cell, Move, Point, Program
from pathsim.motion.welds import works
from pathsim.transforms import Array, frozen


@dataclass(frozen=True, eq=False)
class Change:
    """What to do to the program of ``cell``. No change touches a weld: that one is not made.

    ``points``: values of all axes ``(axes,)`` by name; a known name is taught otherwise, a new
    one is added. ``moves``: (index, move) pairs; each is put in before the move that has that
    index now, in their order; an index one behind the last one adds at the end. ``instead``:
    (index, move) pairs that take the place of moves. Raises WeldTouched where a point would move
    at which the arc is on, under whatever name, or where a seam would start, run or follow
    otherwise than it does.
    """

    cell: Cell
    points: Mapping[str, Array] = field(default_factory=dict)
    moves: tuple[tuple[int, Move], ...] = ()
    instead: tuple[tuple[int, Move], ...] = ()

    def __post_init__(self) -> None:
        moved = sorted(set(self.points) & fixed_points(self.cell))
        if moved:
            raise WeldTouched(
                f"'{moved[0]}' is a point of a weld, a search or a station: advice does not move it"
            )
        old = self.cell.program
        if works(old) != works(_program(old, self)):
            raise WeldTouched(
                "a weld, search or station would start, run or follow otherwise: advice leaves them"
            )

    @property
    def size(self) -> int:
        """How many points and moves a person has to teach or change."""
        return len(self.points) + len(self.moves) + len(self.instead)


def changed(cell: Cell, change: Change) -> Cell:
    """Return the cell with the change made; the cell itself stays as it is.

    Raises WeldTouched when the cell is not the one that the change was made for, and has a weld
    there.
    """
    if cell is not change.cell:
        change = replace(change, cell=cell)
    points = dict(cell.points)
    for name, q in change.points.items():
        points[name] = Point(name, frozen(q), None)
    return replace(cell, points=points, program=_program(cell.program, change))


def _program(program: Program, change: Change) -> Program:
    """Return the program with a change's moves put in."""
    moves: list[Move] = []
    instead = dict(change.instead)
    for index in range(len(program.moves) + 1):
        moves += [move for at, move in change.moves if at == index]
        if index < len(program.moves):
            moves.append(instead.get(index, program.moves[index]))
    return replace(program, moves=tuple(moves))


def origins(cell: Cell, change: Change) -> list[int | None]:
    """For each move of the changed program its index before; None for a move put in."""
    result: list[int | None] = []
    for index in range(len(cell.program.moves) + 1):
        result += [None for at, _ in change.moves if at == index]
        if index < len(cell.program.moves):
            result.append(index)
    return result


def new_name(cell: Cell, wanted: str, taken: Iterable[str] = ()) -> str:
    """Return a point name that the cell does not have yet: ``retract``, ``retract 2``, ..."""
    used = {*cell.points, *taken}
    number, name = 2, wanted
    stem = re.sub(r" \d+$", "", wanted)
    while name in used:
        name, number = f"{stem} {number}", number + 1
    return name


def together(cell: Cell, changes: Sequence[Change]) -> Change | None:
    """Return several changes as one, made in their order; None when two contradict each other.

    New points of one name are one point where they are the same, and get names of their own
    where they are not.
    """
    points: dict[str, Array] = {}
    moves: list[tuple[int, Move]] = []
    instead: list[tuple[int, Move]] = []
    for change in changes:
        names = _names_beside(cell, points, change)
        if names is None or {i for i, _ in change.instead} & {i for i, _ in instead}:
            return None
        points.update({names.get(name, name): q for name, q in change.points.items()})
        moves += [(i, _renamed(move, names)) for i, move in change.moves]
        instead += [(i, _renamed(move, names)) for i, move in change.instead]
    return Change(cell, points, tuple(moves), tuple(instead))


def _names_beside(cell: Cell, points: Mapping[str, Array], change: Change) -> dict[str, str] | None:
    """Say how a change's points have to be called beside others; None when that cannot be."""
    names: dict[str, str] = {}
    for name, q in change.points.items():
        if name not in points or np.allclose(points[name], q, atol=1e-9):
            continue
        if name in cell.points:  # one taught point cannot be in two places
            return None
        names[name] = new_name(cell, name, {*points, *change.points, *names.values()})
    return names


def _renamed(move: Move, names: Mapping[str, str]) -> Move:
    return replace(move, target=names.get(move.target, move.target))
