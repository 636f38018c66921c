"""What a display should show by the description, and how far that is from what it shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pathsim.arm import Arm, ReadingsMap
from pathsim.errors import ArmError
from pathsim.transforms import Array, frozen, inverse, log_rotation


@dataclass(frozen=True, eq=False)
class Reading:
    """One row read off the display: axes ``shown (dof,)`` and what they go with.

    ``T_shown_tcp (4, 4)``: the displayed pose, None when none was noted. ``touches``: rows with
    the same word had the tip on the same point of the shop.
    """

    name: str
    line: int
    shown: Array
    T_shown_tcp: Array | None
    touches: str | None = None


@dataclass(frozen=True, eq=False)
class Description:
    """The parts of a description that a display's numbers can prove or disprove.

    ``T_shown_base (4, 4)``: the model's base in the frame that the display counts poses in.
    """

    arm: Arm
    T_flange_tcp: Array
    T_shown_base: Array

    def poses(self, shown: Array) -> Array:
        """``T_shown_tcp (n, 4, 4)`` by the description at readings ``shown (n, dof)``."""
        q = self.arm.readings.model(shown)
        return np.asarray(self.T_shown_base @ self.arm.pose(q) @ self.T_flange_tcp)

    def with_map(self, mix: Array, zero: Array) -> Description:
        """Return the description with another readings map."""
        readings = ReadingsMap(frozen(mix), frozen(zero), self.arm.readings.T_base_shown)
        return replace(self, arm=self.arm.with_readings(readings))


@dataclass(frozen=True)
class Residual:
    """How far one row is off: m and rad. ``turn`` None: the row only says where the tip was."""

    row: str
    line: int
    distance: float
    turn: float | None


def require_usable(rows: Sequence[Reading]) -> None:
    """Raise ArmError when rows say nothing that could be held against a description."""
    groups = [row.touches for row in rows if row.touches is not None]
    if not any(row.T_shown_tcp is not None for row in rows) and not any(
        groups.count(group) > 1 for group in groups
    ):
        raise ArmError("no row has a pose, and no two rows touch the same point")


@dataclass(frozen=True, eq=False)
class Rows:
    """Readings as arrays, for the many looks of a search.

    ``shown (n, dof)``; ``posed (k,)`` indices of rows with a pose and ``T_shown_tcp (k, 4, 4)``;
    ``groups``: indices of rows that touch one point, group by group.
    """

    shown: Array
    posed: list[int]
    T_shown_tcp: Array
    groups: tuple[list[int], ...]

    @classmethod
    def of(cls, rows: Sequence[Reading]) -> Rows:
        """Stack readings."""
        posed = [i for i, row in enumerate(rows) if row.T_shown_tcp is not None]
        poses = np.array([rows[i].T_shown_tcp for i in posed]).reshape(-1, 4, 4)
        return cls(np.array([row.shown for row in rows]), posed, poses, tuple(_groups(rows)))


def errors(description: Description, rows: Rows) -> Array:
    """Rows ``(m, 6)`` of errors: place in m, turn in rad; 0 where a row says nothing of it.

    First a row for each displayed pose, then one for each row that touches a shared point:
    its tip's distance from the middle of its group.
    """
    return errors_of(description.poses(rows.shown), rows)


def errors_of(poses: Array, rows: Rows) -> Array:
    """As ``errors``, ``(..., m, 6)`` of poses ``(..., n, 4, 4)`` that the rows should show."""
    parts = []
    if rows.posed:
        gap = inverse(rows.T_shown_tcp) @ poses[..., rows.posed, :, :]
        parts = [np.concatenate([gap[..., :3, 3], log_rotation(gap[..., :3, :3])], axis=-1)]
    for group in rows.groups:
        tips = poses[..., :3, 3][..., group, :]
        off = tips - tips.mean(axis=-2, keepdims=True)
        parts.append(np.concatenate([off, np.zeros_like(off)], axis=-1))
    return np.concatenate(parts, axis=-2)


def residuals(description: Description, rows: Sequence[Reading]) -> tuple[Residual, ...]:
    """Distance and turn of each row, in the order of ``errors``."""
    sizes = errors(description, Rows.of(rows))
    with_pose = [row for row in rows if row.T_shown_tcp is not None]
    touching = [rows[i] for indices in _groups(rows) for i in indices]
    result = []
    for k, row in enumerate([*with_pose, *touching]):
        is_pose = k < len(with_pose)
        name = row.name if is_pose else f"{row.name} (touches {row.touches})"
        distance, turn = np.linalg.norm(sizes[k, :3]), np.linalg.norm(sizes[k, 3:])
        result.append(Residual(name, row.line, float(distance), float(turn) if is_pose else None))
    return tuple(result)


def _groups(rows: Sequence[Reading]) -> list[list[int]]:
    """Return indices of rows that touch one point, group by group; a lonely one says nothing."""
    groups: dict[str, list[int]] = {}
    for index, row in enumerate(rows):
        if row.touches is not None:
            groups.setdefault(row.touches, []).append(index)
    return [group for group in groups.values() if len(group) > 1]
