"""The circle of an arc: through its start, the point it passes and its end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.errors import MotionError
from pathsim.transforms import Array


@dataclass(frozen=True)
class Circle:
    """Circle through three points: ``centre``, ``axis`` (unit), ``radius``, sweep in rad."""

    centre: Array
    axis: Array
    radius: float
    sweep: float
    sweep_via: float


def circle_through(start: Array, via: Array, end: Array) -> Circle:
    """Circle from ``start`` over ``via`` to ``end`` ``(3,)``; MotionError if in a line or doubled.

    The sweep runs from start to end in the sense that passes via, in (0, 2 pi).
    """
    u, v = via - start, end - start
    normal = np.cross(u, v)
    size = max(np.linalg.norm(u), np.linalg.norm(v), np.linalg.norm(end - via))
    least = min(np.linalg.norm(u), np.linalg.norm(v), np.linalg.norm(end - via))
    if least < 1e-6 or np.linalg.norm(normal) < 1e-6 * size**2:
        raise MotionError("the three points of an arc lie in a line or two of them are one")
    centre = start + (np.cross((u @ u) * v - (v @ v) * u, normal) / (2 * (normal @ normal)))
    # cross((u.u) v - (v.v) u, u x v) / (2 |u x v|^2) is the circumcentre seen from start
    axis = normal / np.linalg.norm(normal)
    arm = start - centre
    radius = float(np.linalg.norm(arm))

    def angle_to(point: Array) -> float:
        other = point - centre
        angle = np.arctan2(np.cross(arm, other) @ axis, arm @ other)
        return float(np.mod(angle, 2 * np.pi))

    sweep, sweep_via = angle_to(end), angle_to(via)
    return Circle(centre, axis, radius, sweep, sweep_via)
