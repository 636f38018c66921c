"""Angles that solve one equation about one or two axes, for batches.

The closed-form inverse is put together from these (Paden-Kahan subproblems; Murray, Li
and Sastry, A Mathematical Introduction to Robotic Manipulation, ch. 3, and their later
least-squares forms). Axes are unit vectors ``(3,)``; points ``(n, 3)``.
"""

from __future__ import annotations

import numpy as np

from pathsim.transforms import Array, BoolArray, skew

#: How far a cosine may lie outside [-1, 1], relative, and still count as a touching solution:
#: rounding at full stretch, not reach that is not there.
TANGENT = 1e-9
#: Below this sine of joint 5 joints 4 and 6 turn about one line: only their sum is defined.
ALIGNED = 1e-9


def turn_onto(axis: Array, start: Array, goal: Array) -> Array:
    """Angle about ``axis`` that brings ``start`` closest to ``goal``; ``(n,)``."""
    # axis . (start x goal) = start . (goal x axis), and goal x axis is one product of matrices
    sine = -(start * (goal @ skew(axis).T)).sum(axis=-1)
    cosine = (start * goal).sum(axis=-1) - (start @ axis) * (goal @ axis)
    return np.asarray(np.arctan2(sine, cosine))


def turn_to_height(
    axis: Array, point: Array, direction: Array, height: Array, root: Array | None = None
) -> tuple[Array, BoolArray]:
    """Both angles x with ``direction . Rot(axis, x) point = height``, and whether they exist.

    Returns ``angles (n, 2)`` and ``exists (n,)``. With ``c`` the cosine and ``s`` the sine
    part the equation is ``c cos x + s sin x = rest``, solved by
    ``atan2(s, c) +- atan2(sqrt(c^2 + s^2 - rest^2), rest)``. ``root`` may give the square
    root when the caller knows it without cancellation.
    """
    along = np.outer(point @ axis, axis) if point.ndim == 2 else (point @ axis) * axis
    across = point - along
    c = (across * direction).sum(axis=-1)
    s = (np.cross(axis, across) * direction).sum(axis=-1)
    rest = height - (along * direction).sum(axis=-1)
    size = np.hypot(c, s)
    square = size**2 - rest**2
    exists = square >= -TANGENT * np.maximum(size**2, 1e-12)
    opening = np.arctan2(np.sqrt(np.maximum(square, 0.0)) if root is None else root, rest)
    middle = np.arctan2(s, c)
    return np.stack([middle + opening, middle - opening], axis=-1), exists


def turn_to_distance(
    axis: Array, point: Array, base: Array, distance: Array
) -> tuple[Array, BoolArray]:
    """Both angles x with ``|base + Rot(axis, x) point| = distance``, and whether they exist.

    Returns ``angles (n, 2)`` and ``exists (n,)``. Squaring turns it into a height problem.
    """
    height = (distance**2 - point @ point - base @ base) / 2
    n = len(height)
    return turn_to_height(axis, np.tile(point, (n, 1)), np.tile(base, (n, 1)), height)
