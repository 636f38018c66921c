"""Where left is on a seam: the directions that a weave goes in."""

from __future__ import annotations

import numpy as np

from pathsim.errors import MotionError
from pathsim.motion.paths import ToolPath
from pathsim.transforms import Array

#: Why a weave has no side to go to.
TORCH_ALONG = "the torch points along the seam, so a weave has no side to go to"
TURNS_BACK = "a joined seam turns back on itself, where a weave has no side to go to"


def directions_of(path: ToolPath, share: float, tilt: float) -> tuple[Array, Array]:
    """Return unit vectors ``(1, 3)`` to the left and along the travel at a share of a path."""
    at = np.array([share])
    travel = path.tangents(at)
    return left_of(travel, path.poses(at)[:, :3, 2], tilt), travel


def left_of(travel: Array, tool_z: Array, tilt: float) -> Array:
    """Return unit vectors to the left of the travel, square to travel and torch; ``(n, 3)``.

    ``tilt`` turns them about the travel, towards the torch's body.
    """
    left = np.cross(-tool_z, travel)
    size = np.linalg.norm(left, axis=-1, keepdims=True)
    if (size < 1e-3).any():
        raise MotionError(TORCH_ALONG)
    left = left / size
    if tilt == 0.0:
        return np.asarray(left)
    return np.asarray(np.cos(tilt) * left + np.sin(tilt) * np.cross(travel, left))


def mixed(a: Array, b: Array, w: Array) -> Array:
    """Return unit vectors on the way from ``a`` to ``b`` ``(n, 3)``; ``w (n, 1)`` from 0 to 1."""
    mixed = (1 - w) * a + w * b
    size = np.linalg.norm(mixed, axis=-1, keepdims=True)
    if (size < 1e-3).any():
        raise MotionError(TURNS_BACK)
    return np.asarray(mixed / size)
