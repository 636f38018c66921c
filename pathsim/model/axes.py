"""Everything that moves in a cell, as one list of axes: the arm's joints, then the table's."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pathsim.arm import Arm
from pathsim.model.turning_table import TurningTable
from pathsim.transforms import Array, BoolArray, frozen

TABLE, TILT = "the turning table", "the tilt axis"


@dataclass(frozen=True, eq=False)
class Axes:
    """Limits of all axes ``(n,)`` in the order of a trajectory's columns; rad or m.

    ``names``: "joint 3", "the rail", "the tilt axis", "the turning table". ``held``: columns
    that a straight move carries from start to end: external axes (a rail, the table's), the
    seventh joint.
    """

    names: tuple[str, ...]
    prismatic: BoolArray
    lower: Array
    upper: Array
    speed: Array
    acceleration: Array
    jerk: Array
    held: tuple[int, ...]
    arm: Arm

    def __repr__(self) -> str:
        return f"Axes({', '.join(self.names)})"

    @property
    def count(self) -> int:
        """Return the number of axes."""
        return len(self.names)

    @classmethod
    @lru_cache(maxsize=32)
    def of(cls, arm: Arm, table: TurningTable | None) -> Axes:
        """Put the table's axes behind the arm's joints, from the floor up."""
        extra = () if table is None else table.axes
        names = (TABLE,) if len(extra) == 1 else (TILT, TABLE)
        prismatic = np.append(arm.prismatic, [False] * len(extra)).astype(bool)
        prismatic.setflags(write=False)
        held = () if arm.held is None else (arm.held,)
        return cls(
            tuple(arm.joint_name(i) for i in range(arm.dof)) + names * bool(extra),
            prismatic,
            frozen(np.append(arm.lower, [t.lower for t in extra])),
            frozen(np.append(arm.upper, [t.upper for t in extra])),
            frozen(np.append(arm.speed, [t.speed for t in extra])),
            frozen(np.append(arm.acceleration, [t.acceleration for t in extra])),
            frozen(np.append(arm.jerk, [np.inf for _ in extra])),
            held + tuple(arm.dof + k for k in range(len(extra))),
            arm,
        )

    def room(self, q: Array) -> Array:
        """How far axes ``(..., n)`` are inside their nearer limit; below zero past it."""
        room = np.minimum(q - self.lower, self.upper - q)
        if self.arm.shown_limits is not None:
            dof = self.arm.dof
            room[..., :dof] = np.minimum(room[..., :dof], self.arm.room(q[..., :dof]))
        return np.asarray(room)

    @property
    def middle(self) -> Array:
        """The middle of all ranges ``(n,)``; zero for an axis without limits."""
        bounded = np.isfinite(self.lower) & np.isfinite(self.upper)
        low, high = np.where(bounded, self.lower, 0.0), np.where(bounded, self.upper, 0.0)
        return np.asarray((low + high) / 2)

    def stroke(self, q: Array) -> Array:
        """Farthest each sliding axis goes from zero ``(n,)``, m, in ``q (m, n)``; 0 for turning."""
        if not self.prismatic.any():
            return np.zeros(self.count)
        return np.where(self.prismatic, np.abs(q).max(axis=0, initial=0.0), 0.0)
