"""What to key in for a new point: joints as the display counts them, and its pose."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from pathsim.findings.axis_words import joint_values
from pathsim.model import Cell
from pathsim.transforms import Array, inverse, quat_wxyz_from_rotation

#: So near to a rotation of which two angles do the same, one of them is told as zero.
_LOCKED = 1 - 1e-9
BASE, WORLD = "base", "world"


@dataclass(frozen=True)
class PoseConvention:
    """How poses are told: ``rotation`` as a cell file names it, seen from ``base`` or ``world``."""

    rotation: str = "fixed x-y-z"
    frame: str = BASE


@dataclass(frozen=True, eq=False)
class KeyedIn:
    """A point's values: ``shown (axes,)`` as displayed, rad or m; the tool's pose by a convention.

    ``place (3,)`` m; ``turn``: three angles in rad, or a quaternion w, x, y, z.
    """

    name: str
    joints: str
    shown: Array
    place: Array
    turn: Array
    convention: PoseConvention

    @property
    def words(self) -> tuple[str, str]:
        """Joint values, and the pose, each in a sentence."""
        x, y, z = (f"{1e3 * value + 0.0:.1f}" for value in self.place)
        if len(self.turn) == 4:
            turn = ", ".join(f"{value + 0.0:.5f}" for value in self.turn)
        else:
            turn = ", ".join(f"{np.degrees(value) + 0.0:.2f}" for value in self.turn) + " deg"
        frame = "the arm's base" if self.convention.frame == BASE else "the world"
        return (
            f"Joints of '{self.name}': {self.joints}.",
            f"Pose of '{self.name}': x {x}, y {y}, z {z} mm, {turn} "
            f"({self.convention.rotation}, from {frame}).",
        )


def keyed_in(
    cell: Cell, points: Mapping[str, Array], convention: PoseConvention | None = None
) -> Iterator[KeyedIn]:
    """Yield the values of points ``(axes,)`` by name; ``cell`` is any with its arm."""
    how = PoseConvention() if convention is None else convention
    for name, q in points.items():
        T = cell.tool_poses(q[None])[0]
        if how.frame != WORLD:
            # The display tells poses from a base of its own, where the arm's description says so.
            T = inverse(cell.T_world_base @ cell.arm.readings.T_base_shown) @ T
        shown = np.concatenate([cell.arm.readings.shown(q[: cell.arm.dof]), q[cell.arm.dof :]])
        turn = angles_of(how.rotation, T[:3, :3])
        yield KeyedIn(name, joint_values(cell, q), shown, T[:3, 3], turn, how)


def angles_of(rotation: str, R: Array) -> Array:
    """Return a rotation ``(3, 3)`` by a convention, as ``rotation_from_angles`` reads it.

    Three angles in rad; for quaternions w, x, y, z. The inverse of the textbook's products
    (Siciliano and others, Robotics, section 2.4).
    """
    if rotation.startswith("quaternion"):
        return quat_wxyz_from_rotation(R)
    if rotation == "z-y-z":
        middle = np.arccos(np.clip(R[2, 2], -1, 1))
        if abs(R[2, 2]) > _LOCKED:
            return np.array([0.0, middle, np.arctan2(R[1, 0], R[1, 1])])
        return np.array([np.arctan2(R[1, 2], R[0, 2]), middle, np.arctan2(R[2, 1], -R[2, 0])])
    about_y = np.arcsin(np.clip(-R[2, 0], -1, 1))
    if abs(R[2, 0]) > _LOCKED:
        about_x, about_z = 0.0, np.arctan2(-R[0, 1], R[1, 1])
    else:
        about_x, about_z = np.arctan2(R[2, 1], R[2, 2]), np.arctan2(R[1, 0], R[0, 0])
    turn = np.array([about_x, about_y, about_z])
    return turn if rotation == "fixed x-y-z" else turn[::-1]
