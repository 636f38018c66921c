"""A turning table for the part: one extra axis that is no joint of the arm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pathsim.transforms import Array, inverse, pose


@dataclass(frozen=True, eq=False)
class TurningTable:
    """What turns about z of ``T_world_axis (4, 4)``; rad, rad/s, rad/s^2.

    Its frame is the world's with the table at zero: bodies on it are placed as they stand
    then, and ``motion`` moves them from there.
    """

    T_world_axis: Array
    lower: float
    upper: float
    speed: float
    acceleration: float

    def motion(self, angle: ArrayLike) -> Array:
        """``T_world_table (..., 4, 4)`` at angles ``(...)``; the identity at zero."""
        angles = np.asarray(angle, float)
        turn = np.zeros((*angles.shape, 3, 3))
        turn[..., 0, 0] = turn[..., 1, 1] = np.cos(angles)
        turn[..., 1, 0] = np.sin(angles)
        turn[..., 0, 1] = -turn[..., 1, 0]
        turn[..., 2, 2] = 1.0
        return np.asarray(self.T_world_axis @ pose(turn, np.zeros(3)) @ inverse(self.T_world_axis))
