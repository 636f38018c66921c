"""Where the taught points are, as tool poses and as joint values."""

from __future__ import annotations

import numpy as np

from pathsim.model import Cell, Program
from pathsim.motion.trajectory import PlanNote
from pathsim.transforms import Array, inverse, rotation_angle

#: Joints and pose of one point may differ by so much: what a display rounds away.
_SAME_PLACE = 5e-4  # m
_SAME_TURN = np.radians(0.1)


class Targets:
    """Answers for the taught points of one cell."""

    def __init__(self, cell: Cell) -> None:
        self._cell = cell
        self._T_tcp_flange = inverse(cell.torch.T_flange_tcp)

    @property
    def middle(self) -> Array:
        """The middle of all joint ranges ``(dof,)``; zero for a joint without limits."""
        arm = self._cell.arm
        bounded = np.isfinite(arm.lower) & np.isfinite(arm.upper)
        low, high = np.where(bounded, arm.lower, 0.0), np.where(bounded, arm.upper, 0.0)
        return np.asarray((low + high) / 2)

    def tool_pose(self, name: str) -> Array:
        """``T_base_tcp (4, 4)`` of a point; the joint values decide when both are taught."""
        point = self._cell.points[name]
        if point.q is not None:
            return self._cell.arm.pose(point.q) @ self._cell.torch.T_flange_tcp
        assert point.T_base_tcp is not None  # noqa: S101 - the loader refuses empty points
        return point.T_base_tcp

    def nearest(self, name: str, near: Array) -> Array | None:
        """Return the solution ``(dof,)`` within limits that is least turn away from ``near``."""
        found = self._cell.arm.inverse(self.tool_pose(name) @ self._T_tcp_flange)
        if len(found) == 0:
            return None
        return np.asarray(found[np.argmin(np.abs(found - near).max(axis=1))])

    def disagreements(self, program: Program) -> list[PlanNote]:
        """Points of the program whose joint values and pose are not the same place."""
        names = [program.start]
        for move in program.moves:
            names += [move.target] if move.via is None else [move.via, move.target]
        notes = []
        for name in dict.fromkeys(names):
            point = self._cell.points[name]
            if point.q is None or point.T_base_tcp is None:
                continue
            gap = inverse(self.tool_pose(name)) @ point.T_base_tcp
            amount = float(np.linalg.norm(gap[:3, 3]))
            turn = float(rotation_angle(gap[:3, :3]))
            if amount > _SAME_PLACE or turn > _SAME_TURN:
                notes.append(PlanNote("pose disagrees", name, None, amount, turn))
        return notes
