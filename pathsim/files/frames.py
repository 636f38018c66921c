"""The frame that taught poses are counted from: the arm's base, the world, the table, or a jig."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.model import Group, TurningTable
from pathsim.model.groups import TABLE
from pathsim.model.scenery import IDENTITY
from pathsim.transforms import Array, inverse

BASE, WORLD = "base", "world"


@dataclass(frozen=True, eq=False)
class PoseFrame:
    """Where poses of a points file are counted from.

    ``T_world_base (4, 4)``: the arm's. ``T_world_frame (4, 4)``: the frame, with the table at
    zero; None for the base that the display counts from. ``table``: the table that it turns with.
    """

    T_world_base: Array
    T_world_frame: Array | None = None
    table: TurningTable | None = None

    def in_base(self, T_frame_tcp: Array, T_base_shown: Array, angle: float | None) -> Array:
        """``T_base_tcp (4, 4)`` of a pose; ``angle``: the table's where it was taught, rad.

        ``T_base_shown (4, 4)``: the display's own base.
        """
        if self.T_world_frame is None:
            return T_base_shown @ T_frame_tcp
        T = self.T_world_frame @ T_frame_tcp
        if self.table is not None:
            assert angle is not None  # noqa: S101 - who has a table says where it stood
            T = self.table.motion(angle) @ T
        return inverse(self.T_world_base) @ T


def frame_names(groups: dict[str, Group], table: TurningTable | None) -> list[str]:
    """Return the names of all frames that poses may be counted from."""
    return [BASE, WORLD, *([] if table is None else [TABLE]), *groups]


def pose_frame(
    name: str | None, T_world_base: Array, groups: dict[str, Group], table: TurningTable | None
) -> PoseFrame:
    """Return the frame of a name that is one of ``frame_names``; the base where none is said."""
    if name in (None, BASE):
        return PoseFrame(T_world_base)
    if name == WORLD:
        return PoseFrame(T_world_base, IDENTITY)
    if name == TABLE and table is not None:
        return PoseFrame(T_world_base, table.T_world_axis, table)
    group = groups[str(name)]
    return PoseFrame(T_world_base, group.T_world_group, table if group.on_table else None)
