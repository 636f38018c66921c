"""Joint values for places in the air near taught points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.arm.alignment import has_spherical_wrist, wrist_angle
from pathsim.arm.inverse import (
    at_all_turns,
    at_nearest_turns,
    closed_form,
    nearest_at_each,
    nearest_first,
)
from pathsim.arm.numeric_inverse import NumericInverse
from pathsim.model import Cell
from pathsim.transforms import Array, inverse, require_poses, translation

#: Axes that differ by less are beside each other: no search over all postures is needed, rad or m.
_BESIDE = 0.7


def joints_at(cell: Cell, T_world_tcp: Array, near: Array) -> Array | None:
    """Return axes ``(axes,)`` for a tool pose, the solution nearest ``near``; None when none is.

    The held axes (rail, table) stay as they are in ``near (axes,)``.
    """
    return joints_at_each(cell, T_world_tcp[None], near[None])[0]


def joints_at_each(cell: Cell, T_world_tcp: Array, near: Array) -> list[Array | None]:
    """Return what ``joints_at`` does for poses ``(n, 4, 4)`` from ``near (n, axes)``, at once."""
    arm = cell.arm
    T = require_poses(inverse(cell.T_world_base) @ T_world_tcp @ inverse(cell.torch.T_flange_tcp))
    found = nearest_at_each(arm, T, near[:, : arm.dof]) if len(T) else None
    if found is None:
        return [_searched(cell, *each) for each in zip(T_world_tcp, near, strict=True)]
    q = np.concatenate([found[0], near[:, arm.dof :]], axis=1)
    return [row if is_there else None for row, is_there in zip(q, found[1].tolist(), strict=True)]


def _searched(cell: Cell, T_world_tcp: Array, near: Array) -> Array | None:
    """Return axes ``(axes,)`` as ``joints_at`` does, by looking through all solutions."""
    arm = cell.arm
    T_base_flange = inverse(cell.T_world_base) @ T_world_tcp @ inverse(cell.torch.T_flange_tcp)
    held = None if arm.held is None else float(near[arm.held])
    tool, from_here = cell.torch.T_flange_tcp, near[: arm.dof]
    found = arm.inverse(T_base_flange, held=held, T_flange_tcp=tool, near=from_here)
    if len(found) == 0:
        return None
    found = at_nearest_turns(arm, found, from_here)
    return np.concatenate([nearest_first(arm, found, from_here)[0], near[arm.dof :]])


def joints_beside(cell: Cell, T_world_tcp: Array, starts: Sequence[Array]) -> Array | None:
    """Return axes ``(axes,)`` for a tool pose, come to from any of ``starts (axes,)`` each.

    As ``joints_at`` from the first of them, but quick for arms without a closed form too: there
    the solution nearest the first start of those that Newton's steps reach, and None where they
    reach none. The held axes stay as they are in the first start.
    """
    arm, near = cell.arm, starts[0]
    if closed_form(arm) is not None:
        return joints_at(cell, T_world_tcp, near)
    T = inverse(cell.T_world_base) @ T_world_tcp @ inverse(cell.torch.T_flange_tcp)
    rows = np.stack([start[: arm.dof] for start in starts])
    if arm.held is not None:
        rows[:, arm.held] = near[arm.held]
    solver = NumericInverse(arm, cell.torch.T_flange_tcp)
    q, reached = solver.follow(np.broadcast_to(T, (len(rows), 4, 4)), rows)
    found = at_all_turns(arm, q[reached])
    if len(found) == 0:
        return None
    found = at_nearest_turns(arm, found, near[: arm.dof])
    return np.concatenate([nearest_first(arm, found, near[: arm.dof])[0], near[arm.dof :]])


def joints_beside_each(
    cell: Cell, T_world_tcp: Array, starts: Sequence[Array]
) -> list[Array | None]:
    """Return what ``joints_beside`` does for poses ``(n, 4, 4)``; ``starts (n, axes)`` each."""
    if closed_form(cell.arm) is not None:
        return joints_at_each(cell, T_world_tcp, starts[0])
    return [joints_beside(cell, T, [start[k] for start in starts])
            for k, T in enumerate(T_world_tcp)]  # fmt: skip


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
    return lifted_each(cell, q, direction, [height])[0]


def lifted_each(
    cell: Cell, q: Array, direction: Array, heights: Sequence[float]
) -> list[Array | None]:
    """Return the same for several heights, m."""
    if not len(heights):
        return []
    tool = cell.tool_poses(q[None])[0]
    T = np.array([translation(height * direction) @ tool for height in heights])
    if closed_form(cell.arm) is not None:
        return joints_at_each(cell, T, np.tile(q, (len(T), 1)))
    return [_beside_or_at(cell, each, q) for each in T]


def _beside_or_at(cell: Cell, T: Array, q: Array) -> Array | None:
    """Return axes ``(axes,)`` at a tool pose, quickly where they are beside ``q (axes,)``."""
    beside = joints_beside(cell, T, [q])
    if beside is not None and np.abs(beside - q).max() < _BESIDE:
        return beside
    return joints_at(cell, T, q)


def up() -> Array:
    """Return the world's upward direction."""
    return np.array([0.0, 0.0, 1.0])


def out_of_the_joint(cell: Cell, q: Array) -> Array:
    """Direction ``(3,)`` back along the wire at axes ``q``, in the world."""
    return np.asarray(-cell.tool_poses(q[None])[0, :3, 2])


#: How legs to and from a weld are called, wherever they are spoken of.
ALONG_WIRE, STRAIGHT_UP = "back along the wire", "straight up"
#: Directions nearer to each other than this are one, rad.
_SAME_WAY = np.radians(5.0)


def plain_ways(cell: Cell, q: Array) -> list[tuple[str, Array]]:
    """Return the plain ways out of a weld at axes ``q``, by their words, the trade's habit first.

    That is back along the wire: the wire leaves the joint as it went in. Straight up, ``(3,)`` as
    the other, only where it is another way.
    """
    back = out_of_the_joint(cell, q)
    ways = [(ALONG_WIRE, back)]
    if np.arccos(np.clip(back @ up(), -1, 1)) > _SAME_WAY:
        ways.append((STRAIGHT_UP, up()))
    return ways


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
