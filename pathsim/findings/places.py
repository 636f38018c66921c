"""Joint values for places in the air near taught points."""

from __future__ import annotations

import numpy as np

from pathsim.arm.alignment import has_spherical_wrist, wrist_angle
from pathsim.arm.inverse import at_nearest_turns, nearest_first
from pathsim.model import Cell
from pathsim.transforms import Array, inverse, translation


def joints_at(cell: Cell, T_world_tcp: Array, near: Array) -> Array | None:
    """Return axes ``(axes,)`` for a tool pose, the solution nearest ``near``; None when none is.

    The held axes (rail, table) stay as they are in ``near (axes,)``.
    """
    arm = cell.arm
    T_base_flange = inverse(cell.T_world_base) @ T_world_tcp @ inverse(cell.torch.T_flange_tcp)
    held = None if arm.held is None else float(near[arm.held])
    tool, from_here = cell.torch.T_flange_tcp, near[: arm.dof]
    found = arm.inverse(T_base_flange, held=held, T_flange_tcp=tool, near=from_here)
    if len(found) == 0:
        return None
    found = at_nearest_turns(arm, found, from_here)
    return np.concatenate([nearest_first(arm, found, from_here)[0], near[arm.dof :]])


def all_joints_at(cell: Cell, q: Array) -> list[Array]:
    """Return all other axes ``(axes,)`` within limits that put the tool where ``q`` puts it."""
    arm = cell.arm
    held = None if arm.held is None else float(q[arm.held])
    T = arm.pose(q[: arm.dof])
    found = arm.inverse(T, held=held, T_flange_tcp=cell.torch.T_flange_tcp)
    others = [np.concatenate([row, q[arm.dof :]]) for row in found]
    return [other for other in others if np.abs(other - q).max() > np.radians(5.0)]


def lifted(cell: Cell, q: Array, direction: Array, height: float) -> Array | None:
    """Return axes ``(axes,)`` with the tool moved by ``height`` m along ``direction (3,)``."""
    T = cell.tool_poses(q[None])[0]
    return joints_at(cell, translation(height * direction) @ T, q)


def up() -> Array:
    """Return the world's upward direction."""
    return np.array([0.0, 0.0, 1.0])


def out_of_the_joint(cell: Cell, q: Array) -> Array:
    """Direction ``(3,)`` back along the wire at axes ``q``, in the world."""
    return np.asarray(-cell.tool_poses(q[None])[0, :3, 2])


#: Nearer to a joint limit or to a wrist in line than this is tight, rad, or m on slides. Ours:
#: no authority was found for a number.
_ROOMY, _ROOMY_SLIDE = np.radians(5.0), 0.02


def is_roomy(cell: Cell, q: Array) -> bool:
    """Tell whether axes ``q (axes,)`` stay well off the joint limits and off a wrist in line."""
    axes = cell.axes
    room = axes.room(q)
    if (room < np.where(axes.prismatic, _ROOMY_SLIDE, _ROOMY)).any():
        return False
    arm = cell.arm
    return not has_spherical_wrist(arm) or float(wrist_angle(arm, q[: arm.dof])) >= _ROOMY
