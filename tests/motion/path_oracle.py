"""Poses along straight lines and arcs in another way, as oracle: whole arrays by matrices.

The kernels walk along a path share by share, on rows of numbers.
"""

import numpy as np

from pathsim.errors import MotionError
from pathsim.motion.paths import ArcPath
from pathsim.transforms import Array, pose, rotation_about


def poses(path, s: Array) -> Array:
    """Poses ``(n, 4, 4)`` of the tool at shares ``s (n,)``."""
    if not isinstance(path, ArcPath):
        ((_, _, turn),) = path.form.turns
        start, end = path.start[:3, 3], path.end[:3, 3]
        return pose(turn.at(s), start + s[:, None] * (end - start))
    (_, via, first), (_, _, second) = path.form.turns
    R = np.where(
        (s <= via)[:, None, None],
        first.at(np.minimum(s / via, 1.0)),
        second.at(np.maximum((s - via) / (1 - via), 0.0)),
    )
    return pose(R, path.circle.centre + _arms(path, s))


def tangents(path, s: Array) -> Array:
    """Return unit directions of travel ``(n, 3)``; zero for a path without length."""
    if not isinstance(path, ArcPath):
        way = path.end[:3, 3] - path.start[:3, 3]
        return np.tile(way / path.length if path.length > 0 else np.zeros(3), (len(s), 1))
    return np.asarray(np.cross(path.circle.axis, _arms(path, s)) / path.circle.radius)


def _arms(path: ArcPath, s: Array) -> Array:
    start = path.form.way[0] + path.form.way[1]
    turns = rotation_about(path.circle.axis, s * path.circle.sweep)
    return np.asarray((turns @ (start - path.circle.centre)[:, None])[..., 0])


def left_of(travel: Array, tool_z: Array, tilt: float) -> Array:
    """Return unit vectors ``(n, 3)`` to the left of the travel, square to travel and torch."""
    left = np.cross(-tool_z, travel)
    size = np.linalg.norm(left, axis=-1, keepdims=True)
    if (size < 1e-3).any():
        raise MotionError("no side")
    left = left / size
    return np.asarray(np.cos(tilt) * left + np.sin(tilt) * np.cross(travel, left))


def mixed(a: Array, b: Array, w: Array) -> Array:
    """Return unit vectors on the way from ``a`` to ``b`` ``(n, 3)``; ``w (n, 1)`` from 0 to 1."""
    found = (1 - w) * a + w * b
    return np.asarray(found / np.linalg.norm(found, axis=-1, keepdims=True))
