"""A turning table for the part: one extra axis that is no joint of the arm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pathsim.model import sound
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, inverse, pose
from pathsim.units import MOST

#: A table that turns farther is in a wrong unit, rad.
_FARTHEST_TURN = 20 * np.pi


@dataclass(frozen=True, eq=False)
class TurningTable(FieldsOnly):
    """What turns about z of ``T_world_axis (4, 4)``; rad, rad/s, rad/s^2.

    Its frame is the world's with the table at zero: bodies on it are placed as they stand
    then, and ``motion`` moves them from there.
    """

    T_world_axis: Array
    lower: float
    upper: float
    speed: float
    acceleration: float

    def __post_init__(self) -> None:
        of = "turning table"
        sound.put(self, T_world_axis=sound.pose(f"{of}: T_world_axis", self.T_world_axis))
        for name in ("lower", "upper"):
            value, far = getattr(self, name), _FARTHEST_TURN
            sound.number(f"{of}: {name}", value, "rad", low=-far, high=far)
        if not self.lower < self.upper:
            sound.refuse(f"{of}: upper", self.upper, f"more than lower, {self.lower:g} rad")
        most = MOST["turning speed"]
        sound.number(f"{of}: speed", self.speed, "rad/s", above=0.0, high=most)
        most = MOST["turning acceleration"]
        sound.number(f"{of}: acceleration", self.acceleration, "rad/s2", above=0.0, high=most)

    def __repr__(self) -> str:
        low, high = np.degrees([self.lower, self.upper])
        return f"TurningTable({low:.6g} to {high:.6g} deg)"

    def motion(self, angle: ArrayLike) -> Array:
        """``T_world_table (..., 4, 4)``, m, at angles ``(...)`` rad; the identity at zero."""
        angles = np.asarray(angle, float)
        turn = np.zeros((*angles.shape, 3, 3))
        turn[..., 0, 0] = turn[..., 1, 1] = np.cos(angles)
        turn[..., 1, 0] = np.sin(angles)
        turn[..., 0, 1] = -turn[..., 1, 0]
        turn[..., 2, 2] = 1.0
        return np.asarray(self.T_world_axis @ pose(turn, np.zeros(3)) @ inverse(self.T_world_axis))
