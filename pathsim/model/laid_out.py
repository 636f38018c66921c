"""Lines of the program that are several moves, laid out at the points of their cell.

A stitch stands in a program as one line, and in a cell as seams and moves from point to point:
engines, findings and advice see plain moves. What was made of such a line is made anew
with every cell, so that no point of it is older than those that it follows from.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from pathsim.errors import CellError, LineError
from pathsim.model import sound
from pathsim.model.move import Move
from pathsim.model.places import Places
from pathsim.model.program import Program
from pathsim.model.scenery import Point
from pathsim.model.torch import WIRE
from pathsim.model.turning_table import StandsOn
from pathsim.model.written import Written
from pathsim.transforms import Array

if TYPE_CHECKING:
    from pathsim.model.cell import Cell

#: So much wire is none, m.
_NO_WIRE = 1e-9


def lay_out(cell: Cell) -> None:
    """Put plain moves and the points that they need in the place of lines of several moves.

    Raises LineError where a line does not fit its points, CellError where a part of one is missing.
    """
    program, points = cell.program, cell.points
    has_lines = any(move.written is not None for move in program.moves)
    if not has_lines and not any(point.derived for point in points.values()):
        return
    taught = {name: point for name, point in points.items() if not point.derived}
    made = dict(taught)
    moves: list[Move] = []
    at = program.start
    for move in lines_of(program):
        laid = [move]
        if move.tack and move.target != at:
            came = f"the torch stands at {at!r} then"
            raise LineError(move.line, move.target, came, "a tack where the line before ends")
        if move.written is not None:
            require_known(move, at, made)
            laid, new = move.written.said.laid_out(places_of(cell, at, made))
            for point in new:
                made[point.name] = point
        moves += laid
        at = moves[-1].target
    # Moves that are no part of a line any more may go to what was made for one all the same.
    for name in (n for move in moves for n in (move.target, move.via) if n is not None):
        if name not in made and name in points:
            made[name] = points[name]
    sound.put(cell, program=replace(program, moves=tuple(moves)), points=made)


def plainly(moves: Iterable[Move]) -> tuple[Move, ...]:
    """Return moves that are no part of any line: each may be changed alone, to look what if."""
    return tuple(replace(move, written=None) for move in moves)


def lines_of(program: Program) -> list[Move]:
    """Return the program line by line: a line of several moves as the one move that it was.

    Raises CellError where a part of such a line is missing, or another move stands within it.
    """
    lines: list[Move] = []
    within: Written | None = None
    for move in program.moves:
        own = None if move.written is None else move.written.outermost
        if within is not None:
            if own is None or (own.said, own.at) != (within.said, within.at + 1):
                _refuse(within)
        elif own is not None and own.at:
            _refuse(own)
        if own is None:
            lines.append(move)
            continue
        if own.at == 0:
            lines.append(whole(move, own))
        within = own if own.at + 1 < own.count else None
    if within is not None:
        _refuse(within)
    return lines


def whole(move: Move, own: Written) -> Move:
    """Return the line that a move is a part of as one move that is still to be laid out."""
    return move if own.count == 0 else own.said.move


def moves_of_lines(program: Program) -> list[tuple[int, int]]:
    """Return for each line of the program its first move's index, and how many moves it is."""
    found: list[tuple[int, int]] = []
    index = 0
    while index < len(program.moves):
        written = program.moves[index].written
        count = 1 if written is None else max(written.outermost.count, 1)
        found.append((index, count))
        index += count
    return found


def require_known(move: Move, start: str, points: Mapping[str, Point]) -> None:
    """Require that a line's own points are there before it is laid out at them."""
    assert move.written is not None  # noqa: S101 - asked of lines of several moves
    for name in (start, *sorted(move.written.said.named)):
        sound.known(f"line to {move.target!r}: point", name, points)


def require_wire(program: Program, cut: Mapping[str, float]) -> None:
    """Require the wire as long as it is measured; raises LineError.

    It may nowhere be longer than the stick-out, and no shorter where a search feels with it.
    Counted from the stick-out, which every arc brings back; ``cut``: by the station's body how
    much longer than that, m, a cutter leaves it.
    """
    out = 0.0
    for move in program.moves:
        out = 0.0 if move.arc_on else out
        out = min(out, cut.get(move.station or "", out))
        if move.search is not None and move.search.piece == WIRE and out < -_NO_WIRE:
            came = f"the wire is {-out * 1e3:.1f} mm shorter there than the stick-out it counts on"
            raise LineError(move.line, move.target, came, "it inched forward before the search")
        for pause in move.pauses:
            out += pause.inch
            if out > _NO_WIRE:
                came = f"the wire is {out * 1e3:.1f} mm longer there than the stick-out"
                due = "it inched back before, or a longer 'wire' of the torch"
                raise LineError(move.line, move.target, came, due)


def _refuse(own: Written) -> None:
    raise CellError(
        f"program: a {own.said.word} is one line of the program: came a part of it without the "
        "rest, or a move between its parts; expected all of it, in its order"
    )


def _frames(cell: Cell) -> dict[str, tuple[Array, StandsOn]]:
    """Return what a shift may be told in: by name its pose in the world, and what it stands on."""
    found = {body.name: (body.T_world_body, body.stands_on) for body in cell.bodies}
    found |= {group.name: (group.T_world_group, group.stands_on) for group in cell.groups}
    still = StandsOn.FLOOR
    return found | {"base": (cell.T_world_base, still), "world": (np.eye(4), still)}


def places_of(cell: Cell, start: str, points: Mapping[str, Point] | None = None) -> Places:
    """Return where a cell's points are, or those of ``points``, for a line that begins at one."""
    points = cell.points if points is None else points
    return Places(
        cell.arm, cell.table, cell.T_world_base, cell.torch.T_flange_tcp, cell.axes.held, points,
        _frames(cell), start,
    )  # fmt: skip
