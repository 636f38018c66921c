"""Where everything of a cell is at some axes: links, tool, tip, and what stands on the table."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from pathsim.arm import Arm
from pathsim.model.axes import Axes
from pathsim.model.linkage import (
    Linkage,
    arm_in_world,
    arm_on_table,
    arm_on_tilt,
    table_in_world,
    table_on_tilt,
)
from pathsim.model.torch import Torch
from pathsim.model.turning_table import StandsOn, TurningTable
from pathsim.transforms import Array, frozen, inverse


class CellPoses:
    """What a cell says of its chains; the fields are the cell's own."""

    arm: Arm
    torch: Torch
    table: TurningTable | None
    T_world_base: Array

    @cached_property
    def axes(self) -> Axes:
        """All axes that move."""
        return Axes.of(self.arm, self.table)

    @cached_property
    def T_base_world(self) -> Array:  # noqa: N802 - a pose is named by its frames
        """Pose ``(4, 4)`` of the world in the arm's base."""
        return frozen(inverse(self.T_world_base))

    @cached_property
    def world_linkage(self) -> Linkage:
        """The arm's chain in the world."""
        return arm_in_world(self.arm, self.T_world_base)

    @cached_property
    def relative_linkage(self) -> Linkage:
        """The arm's chain seen from the turning table."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return arm_on_table(self.arm, self.T_world_base, self.table)

    @cached_property
    def tilt_linkage(self) -> Linkage:
        """The arm's chain seen from the tilt frame of a table of two axes."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return arm_on_tilt(self.arm, self.T_world_base, self.table)

    @cached_property
    def table_linkage(self) -> Linkage:
        """The turning table's chain in the world."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return table_in_world(self.arm, self.table)

    @cached_property
    def turn_linkage(self) -> Linkage:
        """The turning table's chain seen from the tilt frame that carries it."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return table_on_tilt(self.arm, self.table)

    def table_motion(self, q: Array) -> Array:
        """``T_world_table (n, 4, 4)``, m, at axes ``q (n, axes)``; the identity without a table."""
        if self.table is None:
            return np.broadcast_to(np.eye(4), (len(q), 4, 4))
        return self.table.motion(self.table_values(q))

    def frame_motion(self, stands_on: StandsOn, q: Array) -> Array:
        """``T_world_frame (n, 4, 4)``, m, of what a body stands on, at axes ``q (n, axes)``."""
        if self.table is None:
            return np.broadcast_to(np.eye(4), (len(q), 4, 4))
        return self.table.frame_motion(stands_on, self.table_values(q))

    @property
    def frames(self) -> tuple[StandsOn, ...]:
        """All that something can stand on in this cell, the floor first."""
        if self.table is None:
            return (StandsOn.FLOOR,)
        has_tilt = self.table.tilt is not None
        return tuple(frame for frame in StandsOn if has_tilt or frame is not StandsOn.TILT)

    @property
    def seen_linkages(self) -> tuple[Linkage, ...]:
        """The arm's chain as seen from each of ``frames``."""
        if self.table is None:
            return (self.world_linkage,)
        if self.table.tilt is None:
            return self.world_linkage, self.relative_linkage
        return self.world_linkage, self.tilt_linkage, self.relative_linkage

    def table_values(self, values: Array) -> Array:
        """Return the table's own ``(..., k)`` of values of all axes, or of all held axes."""
        assert self.table is not None  # noqa: S101 - asked for only with a table
        return np.asarray(values[..., -len(self.table.axes) :])

    def link_motions(self, q: Array) -> list[Array]:
        """``T_world_link (n, 4, 4)``, m, of the tilt frame, if there is one, and of the table."""
        return [self.frame_motion(frame, q) for frame in self.frames[1:]]

    def link_poses(self, q: Array) -> Array:
        """``T_world_link (n, links, 4, 4)`` at axes ``q (n, axes)``.

        Base first, then the arm's links; with a turning table the links of its axes at the end.
        """
        poses = self.T_world_base @ self.arm.link_poses(q[:, : self.arm.dof])
        if self.table is None:
            return np.asarray(poses)
        return np.concatenate([poses, *(T[:, None] for T in self.link_motions(q))], axis=1)

    def tool_poses(self, q: Array) -> Array:
        """``T_world_tcp (n, 4, 4)``, m, at axes ``q (n, axes)`` in rad or m."""
        T_base_flange = self.arm.pose(q[:, : self.arm.dof])
        return np.asarray(self.T_world_base @ T_base_flange @ self.torch.T_flange_tcp)

    def tips(self, q: Array) -> Array:
        """Tip ``(n, 3)`` in the world, m, at axes ``q (n, axes)`` in rad or m."""
        return self.world_linkage.end_points(q, self.torch.T_flange_tcp[:3, 3])

    def tips_on_part(self, q: Array) -> Array:
        """Tip ``(n, 3)`` seen from the turning table, m; in the world without one."""
        return self.tips_seen_from(StandsOn.TABLE, q)

    def tips_seen_from(self, stands_on: StandsOn, q: Array) -> Array:
        """Tip ``(n, 3)`` as what stands there sees it, m, at axes ``q (n, axes)``."""
        tips = self.tips(q)
        if self.table is None or not stands_on.is_carried:
            return tips
        T = inverse(self.frame_motion(stands_on, q))
        return np.asarray((T[:, :3, :3] @ tips[..., None])[..., 0] + T[:, :3, 3])
