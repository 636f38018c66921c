"""How a straight move, an arc or a seam arrives, beside how its last point was taught."""

from __future__ import annotations

import numpy as np

from pathsim.arm.postures import Posture, has_postures, posture_of
from pathsim.model import Cell, Point
from pathsim.motion.notes import NoteKind, PlanNote
from pathsim.motion.posture_choice import are_about
from pathsim.transforms import Array

#: A straight move that ends more than this from the taught joint values is worth a word, rad.
_OTHERWISE = np.radians(0.5)
_KIND = NoteKind.ARRIVES_OTHERWISE


def arrival_note(cell: Cell, index: int, target: str, q: Array) -> PlanNote | None:
    """Return what is otherwise at axes ``q (axes,)`` than taught for ``target``; None if nothing.

    ``index``: of the move that arrives.
    """
    point = cell.points[target]
    return _from_pose(cell, index, point, q) if point.q is None else _from(cell, index, point, q)


def _from_pose(cell: Cell, index: int, point: Point, q: Array) -> PlanNote | None:
    """Hold an arrival against the posture and the rough joint values that a pose comes with."""
    arm = cell.arm
    if point.posture and has_postures(arm):
        taken = posture_of(arm, q[: arm.dof])
        if not point.posture.is_met_by(taken):
            return PlanNote(_KIND, point.name, index, taught=point.posture, taken=taken)
    met = are_about(arm, q[None, : arm.dof], point.about)[0]
    shown = arm.readings.shown(q[: arm.dof])
    for (joint, value), is_met in zip(point.about, met, strict=True):
        if not is_met:
            turn = float(shown[joint] - value)
            return PlanNote(_KIND, point.name, index, turn=turn, axis=joint)
    return None


def _from(cell: Cell, index: int, point: Point, q: Array) -> PlanNote | None:
    """Hold an arrival against taught joint values."""
    assert point.q is not None  # noqa: S101 - asked for such points only
    gap = q - point.q
    worst = int(np.argmax(np.abs(gap)))
    if abs(gap[worst]) <= _OTHERWISE:
        return None
    taught: Posture | None = None
    taken: Posture | None = None
    if has_postures(cell.arm):
        taught, taken = (posture_of(cell.arm, row[: cell.arm.dof]) for row in (point.q, q))
    if taught == taken:
        taught = taken = None
    turn = float(gap[worst])
    return PlanNote(_KIND, point.name, index, turn=turn, axis=worst, taught=taught, taken=taken)
