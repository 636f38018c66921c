"""The frame that taught poses are counted from: the arm's base, the world, the table, or a jig."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.model import Group, TurningTable
from pathsim.model.scenery import IDENTITY
from pathsim.model.turning_table import TABLE, TILT_FRAME, StandsOn
from pathsim.transforms import Array, inverse

BASE, WORLD = "base", "world"


@dataclass(frozen=True, eq=False)
class PoseFrame:
    """Where poses of a points file are counted from.

    ``T_world_base (4, 4)``: the arm's. ``T_world_frame (4, 4)``: the frame, with the table at
    zero; None for the base that the display counts from. ``table``: the table that
    moves it, as what stands on ``stands_on``.
    """

    T_world_base: Array
    T_world_frame: Array | None = None
    table: TurningTable | None = None
    stands_on: StandsOn = StandsOn.FLOOR

    def in_base(self, T_frame_tcp: Array, T_base_shown: Array, told: Array | None) -> Array:
        """``T_base_tcp (4, 4)`` of a pose; ``told``: all axes where it was taught, or the held.

        ``T_base_shown (4, 4)``: the display's own base.
        """
        if self.T_world_frame is None:
            return T_base_shown @ T_frame_tcp
        T = self.T_world_frame @ T_frame_tcp
        if self.table is not None:
            assert told is not None  # noqa: S101 - who has a table says where it stood
            values = told[-len(self.table.axes) :]
            T = self.table.frame_motion(self.stands_on, values) @ T
        return inverse(self.T_world_base) @ T


def frame_names(groups: dict[str, Group], table: TurningTable | None) -> list[str]:
    """Return the names of all frames that poses may be counted from."""
    return [BASE, WORLD, *_table_frames(table), *groups]


def _table_frames(table: TurningTable | None) -> list[str]:
    """Return the names of the frames of a table: its own, and that of its tilt."""
    if table is None:
        return []
    return [TABLE] if table.tilt is None else [TABLE, TILT_FRAME]


def pose_frame(
    name: str | None, T_world_base: Array, groups: dict[str, Group], table: TurningTable | None
) -> PoseFrame:
    """Return the frame of a name that is one of ``frame_names``; the base where none is said."""
    if name in (None, BASE):
        return PoseFrame(T_world_base)
    if name == WORLD:
        return PoseFrame(T_world_base, IDENTITY)
    if name == TABLE and table is not None:
        return PoseFrame(T_world_base, table.T_world_axis, table, StandsOn.TABLE)
    if name == TILT_FRAME and table is not None and table.tilt is not None:
        return PoseFrame(T_world_base, table.tilt.T_world_axis, table, StandsOn.TILT)
    group = groups[str(name)]
    carrier = table if group.stands_on.is_carried else None
    return PoseFrame(T_world_base, group.T_world_group, carrier, group.stands_on)
