"""A joint move: a straight line in joint space, and how far the tip leaves the straight line."""

from __future__ import annotations

import itertools
import math

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import Axes
from pathsim.motion.path_timing import NO_TURN
from pathsim.motion.time_scaling import LONGEST_MOVE, Law, synchronised
from pathsim.motion.trajectory import PATH_ERROR
from pathsim.transforms import Array

#: Largest turn of a joint between knots, rad: long segments would loosen the motion bound.
_LARGEST_STEP = np.radians(3.0)


def lay_joint_move(
    axes: Axes, q_start: Array, q_end: Array, share: float, levers: Array
) -> tuple[Array, Array]:
    """Knots ``t (n,)`` and ``q (n, dof)`` of a joint move at ``share`` of the joint speeds.

    In space the knots are exact; they are close enough in the ramps that even motion
    between them is within PATH_ERROR of the true moment as well.
    """
    delta = q_end - q_start
    if np.abs(delta).max() <= NO_TURN:
        return np.zeros(1), q_start[None].copy()
    law = synchronised(delta, axes.speed * share, axes.acceleration, axes.jerk)
    if not law.duration <= LONGEST_MOVE:
        raise MotionError(f"a joint move would take {law.duration:.3g} s; is its speed right?")
    t = _times(law, delta, levers)
    q = q_start + law.position(t)[:, None] * delta
    q[-1] = q_end
    return t, q


def _times(law: Law, delta: Array, levers: Array) -> Array:
    """Return times of knots: by the error bound in the ramps, by the largest step everywhere."""
    biggest = float(np.abs(delta).max())
    # even motion between knots misses the ramp's parabola by at most a dt^2 / 8
    curve = law.acceleration * float(np.abs(delta) @ levers)
    parts = [np.zeros(1)]
    cruise = law.cruise
    breaks = law.breaks
    turns = biggest * np.diff(law.position(breaks))
    for (a, b), turn in zip(itertools.pairwise(breaks.tolist()), turns.tolist(), strict=True):
        count = math.ceil(turn / _LARGEST_STEP)
        is_cruise = a >= cruise[0] - 1e-12 and b <= cruise[1] + 1e-12
        if not is_cruise:
            count = max(count, math.ceil((b - a) * math.sqrt(curve / (8 * PATH_ERROR))))
        steps = np.arange(1, max(count, 1) + 1) * ((b - a) / max(count, 1)) + a
        steps[-1] = b
        parts.append(steps)
    return np.concatenate(parts)


def detour(tips: Array, t: Array) -> tuple[float, float]:
    """Largest distance of tips ``(n, 3)`` from the straight line between the ends, m, and when."""
    way = tips[-1] - tips[0]
    length = float(way @ way)
    along = np.clip((tips - tips[0]) @ way / length, 0, 1) if length > 0 else np.zeros(len(tips))
    gap = np.linalg.norm(tips - tips[0] - along[:, None] * way, axis=-1)
    worst = int(np.argmax(gap))
    return float(gap[worst]), float(t[worst])
