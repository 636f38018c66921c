"""A joint move: a straight line in joint space, and how far the tip leaves the straight line."""

from __future__ import annotations

import math

import numpy as np

from pathsim.errors import MotionError
from pathsim.kernels.arrays import as_asked
from pathsim.kernels.plain import as_it_runs
from pathsim.model import Axes
from pathsim.motion.line_kernel import lay_line
from pathsim.motion.path_timing import NO_TURN
from pathsim.motion.time_scaling import LONGEST_MOVE, synchronised
from pathsim.motion.trajectory import PATH_ERROR
from pathsim.transforms import Array

#: Largest turn of a joint between knots, rad: long segments would loosen the motion bound.
_LARGEST_STEP = math.radians(3.0)


def lay_joint_move(
    axes: Axes, q_start: Array, q_end: Array, share: float, levers: Array
) -> tuple[Array, Array]:
    """Knots ``t (n,)`` and ``q (n, dof)`` of a joint move at ``share`` of the joint speeds.

    In space the knots are exact; they are close enough in the ramps that even motion
    between them is within PATH_ERROR of the true moment as well.
    """
    delta = q_end - q_start
    farthest = float(np.abs(delta).max())
    if farthest <= NO_TURN:
        return np.zeros(1), q_start[None].copy()
    law = synchronised(delta, axes.speed * share, axes.acceleration, axes.jerk)
    if not law.duration <= LONGEST_MOVE:
        raise MotionError(f"a joint move would take {law.duration:.3g} s; is its speed right?")
    cruise, breaks = law.cruise, law.breaks
    # Even motion between knots misses the ramp's parabola by at most a dt^2 / 8.
    curve = law.acceleration * float(np.abs(delta) @ levers)
    bends = np.full(len(breaks) - 1, math.sqrt(curve / (8 * PATH_ERROR)))
    bends[(breaks[:-1] >= cruise[0] - 1e-12) & (breaks[1:] <= cruise[1] + 1e-12)] = 0.0
    t, q = as_it_runs(lay_line)(
        law.phases, breaks, bends, farthest, _LARGEST_STEP,
        as_asked(q_start, float), as_asked(q_end, float),
    )  # fmt: skip
    return t, q


def detour(tips: Array, t: Array) -> tuple[float, float]:
    """Largest distance of tips ``(n, 3)`` from the straight line between the ends, m, and when."""
    way = tips[-1] - tips[0]
    length = float(way @ way)
    along = np.clip((tips - tips[0]) @ way / length, 0, 1) if length > 0 else np.zeros(len(tips))
    gap = np.linalg.norm(tips - tips[0] - along[:, None] * way, axis=-1)
    worst = int(np.argmax(gap))
    return float(gap[worst]), float(t[worst])
