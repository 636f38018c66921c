"""A straight move, an arc or a seam as an ideal motion of the flange in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import Move
from pathsim.motion.paths import ToolPath
from pathsim.motion.timing import LONGEST_MOVE, Trapezoid
from pathsim.motion.weaving import WeaveSchedule
from pathsim.transforms import Array

#: The tool turns at most this fast on a straight move or an arc, rad/s and rad/s^2. Only
#: matters for moves that turn much and travel little.
TURNING_SPEED = np.radians(120.0)
TURNING_ACCELERATION = np.radians(600.0)
_COARSE_WAY = 0.03  # m
_COARSE_TURN = np.radians(5.0)


@dataclass(frozen=True, eq=False)
class CartesianMotion:
    """Poses of the flange over time for one move along ``path``."""

    path: ToolPath
    law: Trapezoid | None  # None on a seam: even travel from the first moment to the last
    travel_time: float
    schedule: WeaveSchedule | None
    T_tcp_flange: Array

    def shares(self, t: Array) -> Array:
        """Shares 0..1 of the path at times ``t (n,)`` from the move's start."""
        if self.law is None:
            return np.asarray(np.clip(t / self.travel_time, 0.0, 1.0))
        return np.asarray(np.clip(self.law.position(t), 0.0, 1.0))

    def tool(self, t: Array) -> Array:
        """Poses of the tool ``(n, 4, 4)`` in the base, weave included."""
        s = self.shares(t)
        T = self.path.poses(s)
        if self.schedule is not None:
            left = _left(self.path.tangents(s), T[:, :3, 2])
            T[:, :3, 3] += self.schedule.offsets(t)[:, None] * left
        return T

    def flange(self, t: Array) -> Array:
        """Poses of the flange ``(n, 4, 4)`` in the base."""
        return np.asarray(self.tool(t) @ self.T_tcp_flange)

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
        count = max(4, self.path.length / _COARSE_WAY, self.path.turning / _COARSE_TURN)
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
    move: Move, path: ToolPath, T_tcp_flange: Array, tip_speed: float, tip_acceleration: float
) -> CartesianMotion:
    """Time a path: a seam travels evenly, any other move rests to rest with a trapezoid."""
    if move.arc_on:
        if path.length <= 0:
            raise MotionError("a seam needs a length: its start and end are the same place")
        travel = path.length / move.speed
        _require_sane(travel)
        schedule = None if move.weave is None else WeaveSchedule(move.weave, travel)
        return CartesianMotion(path, None, travel, schedule, T_tcp_flange)
    speed = min(move.speed, tip_speed)
    rates, accelerations = [], []
    if path.length > 0:
        rates.append(speed / path.length)
        accelerations.append(tip_acceleration / path.length)
    if path.turning > 1e-9:
        rates.append(TURNING_SPEED / path.turning)
        accelerations.append(TURNING_ACCELERATION / path.turning)
    law = Trapezoid(1.0, min(rates), min(accelerations)) if rates else Trapezoid(0.0, 1.0, 1.0)
    _require_sane(law.duration)
    return CartesianMotion(path, law, law.duration, None, T_tcp_flange)
