"""A straight move, an arc or a seam as an ideal motion of the flange in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import Cell, Move, TurningTable
from pathsim.motion.paths import ToolPath
from pathsim.motion.timing import LONGEST_MOVE, Law, Trapezoid, law_of
from pathsim.motion.weaving import WeaveSchedule
from pathsim.transforms import Array, inverse

#: The tool turns at most this fast on a straight move or an arc, rad/s and rad/s^2. Only
#: matters for moves that turn much and travel little.
TURNING_SPEED = np.radians(120.0)
TURNING_ACCELERATION = np.radians(600.0)
_COARSE_WAY = 0.03  # m
_COARSE_TURN = np.radians(5.0)


@dataclass(frozen=True, eq=False)
class CartesianMotion:
    """Poses of the flange over time for one move along ``path``.

    The path is seen from the part: from the turning table where there is one, else from the
    arm's base. Held axes (``Axes.held``) go evenly along the path from ``held_start`` to
    ``held_end (k,)``.
    """

    path: ToolPath
    T_base_world: Array
    table: TurningTable | None
    held_start: Array
    held_end: Array
    law: Law | None  # None on a seam: even travel from the first moment to the last
    travel_time: float
    schedule: WeaveSchedule | None
    T_tcp_flange: Array

    def shares(self, t: Array) -> Array:
        """Shares 0..1 of the path at times ``t (n,)`` from the move's start."""
        if self.law is None:
            return np.asarray(np.clip(t / self.travel_time, 0.0, 1.0))
        return np.asarray(np.clip(self.law.position(t), 0.0, 1.0))

    def tool(self, t: Array) -> Array:
        """Poses of the tool ``(n, 4, 4)`` on the part, weave included."""
        s = self.shares(t)
        T = self.path.poses(s)
        if self.schedule is not None:
            left = _left(self.path.tangents(s), T[:, :3, 2])
            T[:, :3, 3] += self.schedule.offsets(t)[:, None] * left
        return T

    def flange(self, t: Array) -> Array:
        """Poses of the flange ``(n, 4, 4)`` in the base."""
        T = self.tool(t) @ self.T_tcp_flange
        if self.table is None:
            return np.asarray(T)
        return np.asarray(self.T_base_world @ self.table.motion(self.held(t)[:, -1]) @ T)

    def held(self, t: Array) -> Array:
        """Values ``(n, k)`` of the held axes at times ``t (n,)``."""
        return np.asarray(
            self.held_start + self.shares(t)[:, None] * (self.held_end - self.held_start)
        )

    @property
    def breaks(self) -> Array:
        """Times of corners in speed, orientation or weave."""
        times = [np.array([0.0, self.travel_time])]
        if self.law is not None:
            times.append(self.law.breaks)
        times.append(self._times_of(self.path.breaks))
        if self.schedule is not None:
            times.append(self.schedule.breaks)
        return np.unique(np.clip(np.concatenate(times), 0.0, self.travel_time))

    @property
    def coarse(self) -> Array:
        """Times at most 30 mm and 5 degrees of the path apart."""
        carried = float(np.abs(self.held_end - self.held_start).max(initial=0.0))
        count = max(
            4,
            self.path.length / _COARSE_WAY,
            self.path.turning / _COARSE_TURN,
            carried / _COARSE_TURN,  # a slide of 0.087 m likewise
        )
        return self._times_of(np.linspace(0.0, 1.0, int(np.ceil(count)) + 1))

    def _times_of(self, shares: Array) -> Array:
        if self.law is None:
            return np.asarray(shares * self.travel_time)
        dense = np.linspace(0.0, self.travel_time, 4001)
        times = np.interp(shares, self.law.position(dense), dense)
        times[0], times[-1] = 0.0, self.travel_time
        return np.asarray(times)


def _left(travel: Array, tool_z: Array) -> Array:
    """Return unit vectors to the left of the travel, square to travel and torch; ``(n, 3)``."""
    left = np.cross(-tool_z, travel)
    size = np.linalg.norm(left, axis=-1, keepdims=True)
    if (size < 1e-3).any():
        raise MotionError("the torch points along the seam, so a weave has no side to go to")
    return np.asarray(left / size)


def _require_sane(seconds: float) -> None:
    """Refuse a move that takes longer than LONGEST_MOVE: a speed in a wrong unit."""
    if not seconds <= LONGEST_MOVE:
        raise MotionError(f"it would take {seconds:.3g} s at this speed; is the unit right?")


def cartesian_motion(
    cell: Cell, move: Move, path: ToolPath, held_start: Array, held_end: Array
) -> CartesianMotion:
    """Time a path: a seam travels evenly, any other move rests to rest with a trapezoid."""

    def motion(law: Law | None, seconds: float, schedule: WeaveSchedule | None) -> CartesianMotion:
        _require_sane(seconds)
        return CartesianMotion(
            path, inverse(cell.T_world_base), cell.table, held_start, held_end, law, seconds,
            schedule, inverse(cell.torch.T_flange_tcp),
        )  # fmt: skip

    if move.arc_on:
        if path.length <= 0:
            raise MotionError("a seam needs a length: its start and end are the same place")
        travel = path.length / move.speed
        _require_sane(travel)
        schedule = None if move.weave is None else WeaveSchedule(move.weave, travel)
        return motion(None, travel, schedule)
    speed = min(move.speed, cell.tip_speed)
    rates, accelerations, jerks = [], [], []
    if path.length > 0:
        rates.append(speed / path.length)
        accelerations.append(cell.tip_acceleration / path.length)
        jerks.append(cell.tip_jerk / path.length)
    if path.turning > 1e-9:
        rates.append(TURNING_SPEED / path.turning)
        accelerations.append(TURNING_ACCELERATION / path.turning)
    for column, way in zip(cell.axes.held, np.abs(held_end - held_start), strict=True):
        if way > 1e-9:
            rates.append(float(cell.axes.speed[column] / way))
            accelerations.append(float(cell.axes.acceleration[column] / way))
            jerks.append(float(cell.axes.jerk[column] / way))
    if not rates:
        return motion(Trapezoid(0.0, 1.0, 1.0), 0.0, None)
    law = law_of(1.0, min(rates), min(accelerations), min(jerks, default=np.inf))
    return motion(law, law.duration, None)
