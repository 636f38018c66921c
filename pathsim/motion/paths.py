"""Straight lines and arcs of the tool: what they are made of. Kernels walk along them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, Protocol

import numpy as np

from pathsim.model.circle import circle_through
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
        way = np.zeros((3, 3))
        way[0], way[1] = start, self.end[:3, 3] - start
        return PathForm(((0.0, 1.0, self._turn),), way, 0.0)


class ArcPath:
    """An arc from ``start`` over ``via`` to ``end`` ``(4, 4)``.

    The tool turns from the start's to the via point's orientation and on to the end's, each
    along its shortest turn and in step with the angle. Going through the via point's
    orientation is what lets a torch stay square to a collar over more than half a turn.
    """

    def __init__(self, start: Array, via: Array, end: Array) -> None:
        self._ends = (start, via, end)
        self.circle = circle_through(start[:3, 3], via[:3, 3], end[:3, 3])
        self.share_via = self.circle.sweep_via / self.circle.sweep
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
        return max(first.angle / self.share_via, second.angle / (1 - self.share_via))

    @property
    def breaks(self) -> Array:
        """The tool's turning rate jumps at the via point."""
        return np.array([0.0, self.share_via, 1.0])

    @property
    def form(self) -> PathForm:
        """Two turns of the tool, and its circle."""
        circle, via = self.circle, self.share_via
        way = np.stack([circle.centre, self._ends[0][:3, 3] - circle.centre, circle.axis])
        first, second = self._turns
        return PathForm(((0.0, via, first), (via, 1.0, second)), way, circle.sweep)
