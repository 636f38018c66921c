"""Where the arc is on: points that no advice may move, and welds that it may not change."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from pathsim.model import Cell, Move, Program
from pathsim.model.laid_out import lines_of
from pathsim.model.run import Run
from pathsim.motion.targets import Targets
from pathsim.transforms import Array, apply, inverse

#: Taught tips nearer to each other than this are one place under two names, m. It is what a
#: touch-up by hand moves a weld point; a retract is farther.
SAME_PLACE = 1e-3

#: A weld as the program says it: the point where it starts, and its move.
Weld = tuple[str, Move]


def welds(program: Program) -> tuple[Weld, ...]:
    """Return the welds as advice leaves them, in order, each with the point that it starts from.

    Moves with the arc on, and what stands between the stitches of one line.
    """
    return tuple((start, move) for start, move in works(program) if not move.wants_contact)


def works(program: Program) -> tuple[Weld, ...]:
    """Return all moves that advice leaves, as ``welds``: those that want contact among them."""
    found, at = [], program.start
    for move in program.moves:
        if move.is_fixed:
            found.append((at, replace(move, line=None)))
        at = move.target
    return tuple(found)


@lru_cache(maxsize=16)
def arc_points(cell: Cell) -> frozenset[str]:
    """Return the names of all taught points at which the arc is on somewhere in the program.

    Start, via and end of every seam, and every other name that was taught at one of those places,
    seen in the world or from the turning table.
    """
    derived = {name for name, point in cell.points.items() if point.derived}
    named = names_of(welds(cell.program)) | _taught_for(lines_of(cell.program), cell.program.start)
    return points_at(cell, named) | derived


def names_of(seams: Sequence[Weld]) -> frozenset[str]:
    """Return the names of the points where seams start, pass and end."""
    return frozenset(
        name
        for start, move in seams
        if move.at_weld or move.wants_contact
        for name in (start, move.via, move.target)
        if name is not None
    )


def _taught_for(lines: Sequence[Move], at: str | None = None) -> frozenset[str]:
    """Return the points from which lines make those of their welds; ``at``: where they begin.

    The end of a line of stitches may be behind the last of them, and a run goes to none of the
    points of its subprogram where it is shifted.
    """
    named: set[str | None] = set()
    for line in lines:
        said = None if line.written is None else line.written.said
        if isinstance(said, Run):
            named |= _taught_for(said.lines)
        elif line.arc_on:
            named |= {at, line.via, line.target}
        at = line.target
    return frozenset(name for name in named if name is not None)


def points_at(cell: Cell, named: Collection[str]) -> frozenset[str]:
    """Return the names of all taught points at the places of ``named``, those among them."""
    targets = Targets(cell)
    places = {name: _places(cell, targets, name) for name in cell.points}
    return frozenset(
        name
        for name in cell.points
        if name in named or any(_is_one(places[name], places[other]) for other in named)
    )


def _places(cell: Cell, targets: Targets, name: str) -> tuple[Array, ...]:
    """Tip ``(3,)`` of a point from the arm's base, and from the tilt and the table if told."""
    T_base_tcp = targets.tool_pose(name)
    seen = [T_base_tcp[:3, 3]]
    point = cell.points[name]
    told = point.held if point.q is None else point.q
    if cell.table is not None and told is not None:
        for frame in cell.frames[1:]:
            T_world_frame = cell.table.frame_motion(frame, cell.table_values(told))
            T_frame_base = inverse(T_world_frame) @ cell.T_world_base
            seen.append(apply(T_frame_base, T_base_tcp[None, :3, 3])[0])
    return tuple(seen)


def _is_one(a: tuple[Array, ...], b: tuple[Array, ...]) -> bool:
    """Tell whether two tips are one place, from wherever both are told."""
    return any(
        float(np.linalg.norm(one - other)) <= SAME_PLACE for one, other in zip(a, b, strict=False)
    )
