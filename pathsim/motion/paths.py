"""Straight lines and arcs of the tool: what they are made of. Kernels walk along them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol

import numpy as np

from pathsim.errors import MotionError
from pathsim.transforms import Array, Turn


class PathForm(NamedTuple):
    """What a path is made of, for kernels.

    ``turns``: shares where each turn of the tool starts and ends, and the turn. ``way (3, 3)``:
    of a line its start and way; of an arc its centre, the arm from there to its start and its
    axis, which the arm is turned about by ``angle`` (0: a line).
    """

    turns: tuple[tuple[float, float, Turn], ...]
    way: Array
    angle: float


class ToolPath(Protocol):
    """A path of the tool centre point with its orientation."""

    @property
    def length(self) -> float:
        """Length of the tip's way, m."""
        ...

    @property
    def turning(self) -> float:
        """Angle that the tool turns, rad."""
        ...

    @property
    def breaks(self) -> Array:
        """Shares where the path has a corner in orientation, 0 and 1 included."""
        ...

    @property
    def form(self) -> PathForm:
        """What it is made of."""
        ...


@dataclass(frozen=True, eq=False)
class LinePath:
    """Straight from ``start`` to ``end`` ``(4, 4)``, the tool along the shortest turn."""

    start: Array
    end: Array

    @cached_property
    def length(self) -> float:
        """Distance of the two tips, m."""
        return float(np.linalg.norm(self.end[:3, 3] - self.start[:3, 3]))

    @cached_property
    def _turn(self) -> Turn:
        return Turn(self.start[:3, :3], self.end[:3, :3])

    @property
    def turning(self) -> float:
        """Angle of the shortest turn, rad."""
        return self._turn.angle

    @property
    def breaks(self) -> Array:
        """No corner inside."""
        return np.array([0.0, 1.0])

    @property
    def form(self) -> PathForm:
        """One turn of the tool, and its start and way."""
        start = self.start[:3, 3]
        way = np.stack([start, self.end[:3, 3] - start, np.zeros(3)])
        return PathForm(((0.0, 1.0, self._turn),), way, 0.0)


@dataclass(frozen=True)
class Circle:
    """Circle through three points: ``centre``, ``axis`` (unit), ``radius``, sweep in rad."""

    centre: Array
    axis: Array
    radius: float
    sweep: float
    sweep_via: float


def circle_through(start: Array, via: Array, end: Array) -> Circle:
    """Circle from ``start`` over ``via`` to ``end`` ``(3,)``; MotionError if in a line or doubled.

    The sweep runs from start to end in the sense that passes via, in (0, 2 pi).
    """
    u, v = via - start, end - start
    normal = np.cross(u, v)
    size = max(np.linalg.norm(u), np.linalg.norm(v), np.linalg.norm(end - via))
    least = min(np.linalg.norm(u), np.linalg.norm(v), np.linalg.norm(end - via))
    if least < 1e-6 or np.linalg.norm(normal) < 1e-6 * size**2:
        raise MotionError("the three points of an arc lie in a line or two of them are one")
    centre = start + (np.cross((u @ u) * v - (v @ v) * u, normal) / (2 * (normal @ normal)))
    # cross((u.u) v - (v.v) u, u x v) / (2 |u x v|^2) is the circumcentre seen from start
    axis = normal / np.linalg.norm(normal)
    arm = start - centre
    radius = float(np.linalg.norm(arm))

    def angle_to(point: Array) -> float:
        other = point - centre
        angle = np.arctan2(np.cross(arm, other) @ axis, arm @ other)
        return float(np.mod(angle, 2 * np.pi))

    sweep, sweep_via = angle_to(end), angle_to(via)
    return Circle(centre, axis, radius, sweep, sweep_via)


class ArcPath:
    """An arc from ``start`` over ``via`` to ``end`` ``(4, 4)``.

    The tool turns from the start's to the via point's orientation and on to the end's, each
    along its shortest turn and in step with the angle. Going through the via point's
    orientation is what lets a torch stay square to a collar over more than half a turn.
    """

    def __init__(self, start: Array, via: Array, end: Array) -> None:
        self._ends = (start, via, end)
        self.circle = circle_through(start[:3, 3], via[:3, 3], end[:3, 3])
        self._share_via = self.circle.sweep_via / self.circle.sweep
        first, second, third = (T[:3, :3] for T in self._ends)
        self._turns = Turn(first, second), Turn(second, third)

    @property
    def length(self) -> float:
        """Length of the arc, m."""
        return self.circle.radius * self.circle.sweep

    @property
    def turning(self) -> float:
        """Sum of both turns, scaled to the faster half so that its rate bounds both, rad."""
        first, second = self._turns
        return max(first.angle / self._share_via, second.angle / (1 - self._share_via))

    @property
    def breaks(self) -> Array:
        """The tool's turning rate jumps at the via point."""
        return np.array([0.0, self._share_via, 1.0])

    @property
    def form(self) -> PathForm:
        """Two turns of the tool, and its circle."""
        circle, via = self.circle, self._share_via
        way = np.stack([circle.centre, self._ends[0][:3, 3] - circle.centre, circle.axis])
        first, second = self._turns
        return PathForm(((0.0, via, first), (via, 1.0, second)), way, circle.sweep)
