"""Where points of a cell are before its motion is known, and places along a line or an arc."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from pathsim.arm import Arm
from pathsim.model.circle import circle_through
from pathsim.model.held_way import HeldWay
from pathsim.model.scenery import Point
from pathsim.model.turning_table import StandsOn, TurningTable
from pathsim.transforms import Array, Turn, inverse, pose, rotation_about


@dataclass(frozen=True, eq=False)
class Places:
    """Poses of a cell's points. "The part" is the turning table, or the world without one.

    ``held``: columns of the held axes, as ``Axes.held``. ``frames``: by name where a frame is in
    the world, with the table at zero, and what it stands on.
    """

    arm: Arm
    table: TurningTable | None
    T_world_base: Array
    T_flange_tcp: Array
    held: tuple[int, ...]
    points: Mapping[str, Point]
    frames: Mapping[str, tuple[Array, StandsOn]] = field(default_factory=dict)
    start: str = ""  # where the torch stands when the line begins

    def in_base(self, name: str) -> Array:
        """``T_base_tcp (4, 4)`` of a point; the joint values decide when both are taught."""
        point = self.points[name]
        if point.q is not None:
            return np.asarray(self.arm.pose(point.q[: self.arm.dof]) @ self.T_flange_tcp)
        assert point.T_base_tcp is not None  # noqa: S101 - a point has one of both
        return point.T_base_tcp

    def held_at(self, name: str) -> Array | None:
        """Values of the held axes where a point was taught; None where nobody said."""
        point = self.points[name]
        return point.held if point.q is None else np.asarray(point.q[list(self.held)])

    def on_part(self, name: str) -> Array:
        """``T_part_tcp (4, 4)`` of a point."""
        return np.asarray(inverse(self._T_base_part(self.held_at(name))) @ self.in_base(name))

    def own_name(self, wanted: str) -> str:
        """Return a name for a point that no other has: numbered where one is there already."""
        name, number = wanted, 2
        while name in self.points:
            name, number = f"{wanted} ({number})", number + 1
        return name

    def point(self, name: str, T_part_tcp: Array, held: Array | None) -> Point:
        """Return a point of its own at a place on the part."""
        T = self._T_base_part(held) @ T_part_tcp
        return Point(name, T_base_tcp=T, held=held if self.held else None, derived=True)

    def world_frame(self, frame: str, held: Array | None) -> Array | None:
        """``T_world_frame (4, 4)`` of a named frame; None where nobody said how the table stands.

        Raises KeyError where there is no such frame.
        """
        T, stands_on = self.frames[frame]
        if stands_on is StandsOn.FLOOR or self.table is None:
            return T
        if held is None:
            return None
        values = held[-len(self.table.axes) :]
        return np.asarray(self.table.frame_motion(stands_on, values) @ T)

    def _T_base_part(self, held: Array | None) -> Array:  # noqa: N802 - a pose by its frames
        T_base_world = inverse(self.T_world_base)
        if self.table is None or held is None:
            return np.asarray(T_base_world)
        return np.asarray(T_base_world @ self.table.motion(held[-len(self.table.axes) :]))


class Way:
    """The way of the tool along a line, or an arc by ``via``, on the part, as a seam goes it."""

    def __init__(self, places: Places, start: str, via: str | None, end: str) -> None:
        self._ends = places.on_part(start), places.on_part(end)
        self._held: Array | HeldWay | None = None
        begins, ends = places.held_at(start), places.held_at(end)
        first, last = self._ends
        self._circle = None
        #: Share of the way at the taught point in between; None on a line.
        self.share_via: float | None = None
        self._turns = [(0.0, 1.0, Turn(first[:3, :3], last[:3, :3]))]
        if via is not None:
            middle = places.on_part(via)
            circle = circle_through(first[:3, 3], middle[:3, 3], last[:3, 3])
            self._circle, share = circle, circle.sweep_via / circle.sweep
            self.share_via = share
            self._turns = [
                (0.0, share, Turn(first[:3, :3], middle[:3, :3])),
                (share, 1.0, Turn(middle[:3, :3], last[:3, :3])),
            ]
        if begins is None or ends is None:
            self._held = begins if ends is None else ends
            return
        half_way = None if via is None else places.held_at(via)
        self._held = HeldWay.taught(begins, ends, self.share_via or 0.0, half_way)

    @property
    def length(self) -> float:
        """Length of the tip's way, m."""
        if self._circle is not None:
            return self._circle.radius * self._circle.sweep
        return float(np.linalg.norm(self._ends[1][:3, 3] - self._ends[0][:3, 3]))

    def at(self, share: float) -> Array:
        """``T_part_tcp (4, 4)`` at a share of the way."""
        first, last = (T[:3, 3] for T in self._ends)
        tip = first + share * (last - first)
        if self._circle is not None:
            circle = self._circle
            turn = rotation_about(circle.axis, share * circle.sweep)
            tip = circle.centre + turn @ (first - circle.centre)
        low, high, turning = next(t for t in self._turns if share <= t[1] or t[1] == 1.0)
        R = turning.at(np.array([(share - low) / (high - low)]))[0]
        return pose(R, tip)

    def travel(self, share: float) -> Array:
        """Return the unit direction of travel ``(3,)`` on the part, of a way with a length."""
        first, last = (T[:3, 3] for T in self._ends)
        if self._circle is None:
            return np.asarray((last - first) / np.linalg.norm(last - first))
        circle = self._circle
        turn = rotation_about(circle.axis, share * circle.sweep)
        tangent = np.cross(circle.axis, turn @ (first - circle.centre))
        return np.asarray(tangent / np.linalg.norm(tangent))

    @property
    def radius(self) -> float:
        """Radius of an arc, m; inf of a line."""
        return float("inf") if self._circle is None else self._circle.radius

    @property
    def turned(self) -> float:
        """How far travel and tool turn on the way, added up, rad."""
        bent = 0.0 if self._circle is None else self._circle.sweep
        return bent + sum(turn.angle for _, _, turn in self._turns)

    def held(self, share: float) -> Array | None:
        """Values of the held axes there, as a seam carries them; None where nobody said."""
        if isinstance(self._held, HeldWay):
            return np.asarray(self._held(np.array([share]))[0])
        return self._held
