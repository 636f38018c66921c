"""Where the taught points are, as tool poses and as values of all axes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from pathsim.model import Cell, Program
from pathsim.motion.notes import NoteKind, Pick, PlanNote
from pathsim.motion.posture_choice import Wanted, pick
from pathsim.transforms import Array, inverse, rotation_angle

#: Joints and pose of one point may differ by so much: what a display rounds away.
_SAME_PLACE = 5e-4  # m
_SAME_TURN = np.radians(0.1)


class Targets:
    """Answers for the taught points of one cell. ``q`` has a value for each axis of the cell."""

    def __init__(self, cell: Cell) -> None:
        self._cell = cell
        self._reached: dict[bytes, Array] = {}

    def tool_pose(self, name: str) -> Array:
        """``T_base_tcp (4, 4)`` of a point; the joint values decide when both are taught."""
        point = self._cell.points[name]
        if point.q is not None:
            return self.reached(point.q)
        assert point.T_base_tcp is not None  # noqa: S101 - the loader refuses empty points
        return point.T_base_tcp

    def reached(self, q: Array) -> Array:
        """``T_base_tcp (4, 4)`` at axes ``q (axes,)``."""
        cell, key = self._cell, q.tobytes()
        if key not in self._reached:  # the end of one move is the start of the next
            self._reached[key] = cell.arm.pose(q[: cell.arm.dof]) @ cell.torch.T_flange_tcp
        return self._reached[key]

    def held(self, name: str, near: Array) -> Array:
        """Values of the held axes at a point: as taught, else those of ``near (axes,)``."""
        point, columns = self._cell.points[name], list(self._cell.axes.held)
        if point.q is not None:
            return np.asarray(point.q[columns])
        return near[columns] if point.held is None else point.held

    def on_part(self, name: str, near: Array) -> Array:
        """``T_part_tcp (4, 4)`` of a point: as seen from the turning table, if there is one."""
        return self.seen_from_part(self.tool_pose(name), self.held(name, near))

    def seen_from_part(self, T_base_tcp: Array, held: Array) -> Array:
        """Return ``T_base_tcp`` as the part sees it with the held axes there."""
        cell = self._cell
        if cell.table is None:
            return T_base_tcp
        T_world_table = cell.table.motion(cell.table_values(held))
        return np.asarray(inverse(T_world_table) @ cell.T_world_base @ T_base_tcp)

    def pick(self, name: str, near: Array) -> Pick | None:
        """Return the axes taken for a point's pose: those within limits least away from ``near``.

        Of those that stand as the point asks; None when there are none.
        """
        cell, point = self._cell, self._cell.points[name]
        held, dof = self.held(name, near), cell.arm.dof
        first = None if cell.arm.held is None else float(held[0])
        T = self.tool_pose(name) @ cell.torch.T_tcp_flange
        wanted = Wanted(T, first, point.posture, point.about)
        found = pick(cell.arm, cell.torch.T_flange_tcp, wanted, near[:dof])
        if found is None or cell.table is None:
            return found
        return replace(found, q=(*found.q, *cell.table_values(held).tolist()))

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
                notes.append(PlanNote(NoteKind.POSE_DISAGREES, name, None, amount, turn))
        return notes
