"""How far a move's tip goes, and how long the move takes at the cell's override.

Both are worked out later, of moves that may be kept for long: what they need of a cell is taken
out of it now, so that old cells with all their meshes can go.
"""

from __future__ import annotations

import numpy as np

from pathsim.model import Cell, Move
from pathsim.motion.cartesian import CartesianMotion
from pathsim.motion.joint_move import detour
from pathsim.motion.kept_values import Lazy, TipWay
from pathsim.motion.path_timing import Limits, law_along, times_by
from pathsim.motion.time_scaling import synchronised
from pathsim.transforms import Array


def joint_way(cell: Cell, t: Array, q: Array) -> Lazy[TipWay]:
    """Way of the tip on a joint move with knots ``t (n,)`` from 0 and ``q (n, axes)``."""
    linkage, tip = cell.world_linkage, cell.torch.T_flange_tcp[:3, 3]

    def work_out() -> TipWay:
        tips = linkage.end_points(q, tip)
        length = float(np.linalg.norm(np.diff(tips, axis=0), axis=-1).sum())
        return TipWay(length, *detour(tips, t))

    return Lazy(work_out)


def slow_joint(cell: Cell, move: Move, q: Array, q_end: Array) -> Lazy[float]:
    """Seconds of a joint move at the override; accelerations stay what they are."""
    axes, share = cell.axes, move.speed * cell.override

    def work_out() -> float:
        law = synchronised(q_end - q, axes.speed * share, axes.acceleration, axes.jerk)
        return law.duration + move.wait

    return Lazy(work_out)


def slow_cartesian(
    cell: Cell, move: Move, motion: CartesianMotion, t: Array, speed_ratio: Array
) -> Lazy[float]:
    """Seconds of a straight move, arc or seam at the override, weave and all.

    A seam is stretched evenly: at half the speed the weave takes twice the time and keeps
    its pitch. Times in which the arm stands stay. Where a joint is the limit, ``speed_ratio``
    ``(n, axes)`` of segments between knots at ``t (n + 1,)``, running slower costs less.
    """
    limits = Limits.of(cell)

    def work_out() -> float:
        if move.arc_on:
            slow_t = t / limits.override
        else:
            speed = min(limits.speed, move.speed) * limits.override
            law = law_along(limits, speed, motion.path, motion.held.steepest)
            slow_t = times_by(law, motion.shares(t))
        dt, slow_dt = np.diff(t), np.diff(slow_t)
        needed = dt * speed_ratio.max(axis=1, initial=0.0)  # a segment's least time for its joints
        return float(np.maximum(slow_dt, needed).sum()) + move.standing

    return Lazy(work_out)
