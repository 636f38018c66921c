"""The same cell with something otherwise: what would have been, laid and measured, not guessed.

Asked only where something was found: a cell in which all is well pays nothing for it.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from pathsim.clearance import Clearance, Engine
from pathsim.clearance.asked_pairs import AskedPair, AskedPairs
from pathsim.clearance.engine import Bounds, Pair
from pathsim.clearance.joint_pairs import engine_pairs
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of, queries_of_each
from pathsim.errors import CannotCheck, MotionError
from pathsim.findings.finding import Evidence
from pathsim.model import Cell, Move, MoveKind, Point, Program
from pathsim.model.laid_out import plainly
from pathsim.motion import MoveTrack, Trajectory, plan_program
from pathsim.transforms import Array, BoolArray, IntArray, frozen

#: Joint values nearer to each other than this are the same, rad or m.
_SAME = 1e-7


def laid_with(
    evidence: Evidence,
    points: Mapping[str, Array] | None = None,
    moves: Sequence[Move] | None = None,
) -> Trajectory | None:
    """Lay the program with points ``(axes,)`` or moves otherwise; None when it has no meaning."""
    cell = evidence.cell
    taught = {name: Point(name, frozen(q), None) for name, q in (points or {}).items()}
    program = replace(cell.program, moves=plainly(cell.program.moves if moves is None else moves))
    return _laid(evidence, replace(cell, points={**cell.points, **taught}, program=program))


def straight_between(evidence: Evidence, track: MoveTrack) -> MoveTrack | None:
    """Lay a straight move with the two ends of a joint move, in its place in the program.

    At another speed, which a place along it does not depend on. None when it has no meaning.
    """
    cell = evidence.cell
    start, end = track.start, track.move.target
    if start == end:
        return None
    points = {
        start: Point(start, frozen(track.q[0]), None),
        end: Point(end, frozen(track.q[-1]), None),
    }
    move = replace(
        cell.program.moves[track.index], target=end, via=None, wait=0.0, pauses=(), rounding=0.0,
        written=None,
    )  # fmt: skip
    straight = replace(move, kind=MoveKind.LINEAR, speed=0.25 * cell.tip_speed)
    laid = _laid(evidence, replace(cell, points=points, program=Program(start, (straight,))))
    return None if laid is None else laid.tracks[0].at(float(track.t[0]), track.index, straight)


def _laid(evidence: Evidence, cell: Cell) -> Trajectory | None:
    try:
        return plan_program(cell, evidence.laid)
    except (CannotCheck, MotionError):
        return None


def cannot_run(cell: Cell, track: MoveTrack) -> str:
    """Say why a track cannot be run as it was laid; empty when it can."""
    if track.fault is not None:
        return str(track.fault.kind)
    if (cell.axes.room(track.q) < -1e-9).any():
        return "past a joint limit"
    return ""


def measured(
    evidence: Evidence, engine: Engine, trajectory: Trajectory, tracks: Sequence[MoveTrack]
) -> list[tuple[AskedPair, Clearance]]:
    """Measure all pairs on some tracks of a trajectory of the same cell."""
    asked = _asked(evidence.cell, trajectory, tracks)
    return list(zip(asked, engine.min_distance(asked.queries), strict=True))


class Measured(NamedTuple):
    """What was found of n questions: the numbers ``pair (n,)`` of their pairs, and margins, m.

    ``on_arm (n,)``: what a piece is measured to is carried by the arm itself.
    """

    pairs: Sequence[Pair]
    pair: IntArray
    margins: Array
    on_arm: BoolArray
    found: Bounds


def bounds_of_each(
    evidence: Evidence,
    engine: Engine,
    wanted: Sequence[tuple[Trajectory, Sequence[MoveTrack]]],
    *,
    arm_too: bool = True,
) -> list[Measured]:
    """Measure all pairs on some tracks of each of several trajectories, all at once.

    ``arm_too``: the arm against itself as well, not only against what stands.
    """
    cell = evidence.cell
    each = [(one, engine_pairs(cell, tracks) if arm_too else (), tracks) for one, tracks in wanted]
    asked, first = queries_of_each(cell, obstacles(cell), each)
    found, pair, margins = engine.bounds(asked.queries), asked.queries.pair, asked.margins
    carried = [standing.carrier is not None for _, standing in asked.queries.pairs]
    on_arm = np.array(carried, dtype=bool)[pair]
    return [
        Measured(asked.queries.pairs, pair[a:b], margins[a:b], on_arm[a:b], found.part(a, b))
        for a, b in itertools.pairwise(first)
    ]


def _asked(cell: Cell, trajectory: Trajectory, tracks: Sequence[MoveTrack]) -> AskedPairs:
    return queries_of(cell, trajectory, obstacles(cell), engine_pairs(cell, tracks), tracks)


def shortfall(pairs: Sequence[tuple[AskedPair, Clearance]], width: float = 0.0) -> float:
    """How far the worst pair is below its margin, m; 0 where all keep theirs.

    With ``width``, of the engines' intervals, m: of an answer as wide as any of them may give.
    """
    least = ((one.margin, min(c.lower, c.upper - width) if width else c.lower, c.touches)
             for one, c in pairs)  # fmt: skip
    return max((margin - low for margin, low, touches in least if touches or low < margin),
               default=0.0)  # fmt: skip


def goes_like(one: MoveTrack, other: MoveTrack) -> bool:
    """Tell whether two moves are one: what decides about clearance is the same.

    What follows a seam that was solved from another side differs by the last bits.
    """
    kinds = [(t.move.kind, t.move.arc_on, t.q.shape) for t in (one, other)]
    return kinds[0] == kinds[1] and bool((np.abs(one.q - other.q) < _SAME).all())
