"""A straight move, an arc or a seam as an ideal motion of the flange in time."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import Cell, Move, TurningTable, Weave
from pathsim.motion.paths import ToolPath
from pathsim.motion.timing import LONGEST_MOVE, Law, Trapezoid, law_of
from pathsim.motion.weaving import WeaveSchedule
from pathsim.transforms import Array

#: The tool turns at most this fast on a straight move or an arc, rad/s and rad/s^2. Only
#: matters for moves that turn much and travel little.
TURNING_SPEED = np.radians(120.0)
TURNING_ACCELERATION = np.radians(600.0)
#: A weave turns into the next piece's directions within so many amplitudes of a corner.
_CORNER = 2.0
#: A joined piece that goes back by more than this turns round on the spot.
_TURNS_BACK = np.cos(np.radians(175.0))
_COARSE_WAY = 0.03  # m
_COARSE_TURN = np.radians(5.0)


@dataclass(frozen=True, eq=False)
class SeamPlace:
    """Where a piece lies in a seam of several pieces that are joined without a stop.

    ``schedule``: the weave over the whole seam, None without one. ``gone``: seconds of travel
    before this piece, ``travel``: of this piece. ``before`` and ``after``: the neighbouring
    pieces' paths. Round a corner the weave's directions turn evenly from one piece's to the
    other's, so that it goes on without a leap and in step.
    """

    schedule: WeaveSchedule | None
    gone: float
    travel: float
    before: ToolPath | None = None
    after: ToolPath | None = None

    @cached_property
    def start(self) -> float:
        """Time of the whole seam at which this piece starts, s."""
        return self.time_of(0.0)

    def time_of(self, share: float) -> float:
        """Time of the whole seam at a share of this piece, s."""
        gone = self.gone + share * self.travel
        if self.schedule is None:
            return gone
        if share >= 1.0 and self.after is None:
            return self.schedule.duration
        return float(self.schedule.time_of(np.array([gone]))[0])

    @property
    def duration(self) -> float:
        """Seconds of this piece."""
        return self.time_of(1.0) - self.start


@dataclass(frozen=True, eq=False)
class CartesianMotion:
    """Poses of the flange over time for one move along ``path``.

    The path is seen from the part: from the turning table where there is one, else from the
    arm's base. Held axes (``Axes.held``) go evenly along the path from ``held_start`` to
    ``held_end (k,)``. A seam has a ``place`` and travels evenly; any other move has a ``law``.
    """

    path: ToolPath
    T_base_world: Array
    table: TurningTable | None
    held_start: Array
    held_end: Array
    law: Law | None
    place: SeamPlace | None
    travel_time: float
    T_tcp_flange: Array

    def shares(self, t: Array) -> Array:
        """Shares 0..1 of the path at times ``t (n,)`` from the move's start."""
        if self.law is not None:
            return np.asarray(np.clip(self.law.position(t), 0.0, 1.0))
        if self.place is None or self.place.schedule is None:
            return np.asarray(np.clip(t / self.travel_time, 0.0, 1.0))
        gone = self.place.schedule.travelled(t + self.place.start) - self.place.gone
        return np.asarray(np.clip(gone / self.place.travel, 0.0, 1.0))

    def tool(self, t: Array) -> Array:
        """Poses of the tool ``(n, 4, 4)`` on the part, weave included."""
        s = self.shares(t)
        T = self.path.poses(s)
        if self.place is not None and self.place.schedule is not None:
            side, ahead = self.place.schedule.offsets(t + self.place.start)
            left, travel = self._weave_directions(s, T)
            T[:, :3, 3] += side[:, None] * left + ahead[:, None] * travel
        return T

    def _weave_directions(self, s: Array, T: Array) -> tuple[Array, Array]:
        """Return unit vectors ``(n, 3)`` to the left and along the travel at shares ``s``."""
        assert self.weave is not None  # noqa: S101
        travel = self.path.tangents(s)
        left = _left(travel, T[:, :3, 2], self.weave.tilt)
        for corner, distance in zip(
            self.corners, (s * self.path.length, (1 - s) * self.path.length), strict=True
        ):
            if corner is None:
                continue
            w = np.clip(1 - distance / self.corner_width, 0.0, 1.0)[:, None]
            left, travel = _mixed(left, corner[0], w), _mixed(travel, corner[1], w)
        return left, travel

    @property
    def weave(self) -> Weave | None:
        """The weave of a seam that has one."""
        if self.place is None or self.place.schedule is None:
            return None
        return self.place.schedule.weave

    @property
    def corner_width(self) -> float:
        """Way over which a weave's directions turn at a corner, m."""
        amplitude = 0.0 if self.weave is None else self.weave.amplitude
        return float(min(_CORNER * amplitude, self.path.length / 2))

    @cached_property
    def corners(self) -> tuple[tuple[Array, Array] | None, tuple[Array, Array] | None]:
        """Directions ``(1, 3)`` to the left and along the travel at this piece's start and end.

        Half way between this piece's and its neighbour's; None where there is no neighbour.
        """
        if self.place is None or self.weave is None:
            return None, None
        return self._corner(self.place.before, 1.0), self._corner(self.place.after, 0.0)

    def _corner(self, neighbour: ToolPath | None, at: float) -> tuple[Array, Array] | None:
        if neighbour is None or self.weave is None:
            return None
        (own_left, own_travel), (left, travel) = (
            _directions_of(path, share, self.weave.tilt)
            for path, share in ((self.path, 1.0 - at), (neighbour, at))
        )
        half = np.full((1, 1), 0.5)
        return _mixed(own_left, left, half), _mixed(own_travel, travel, half)

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
        if len(self.path.breaks) > 2:
            times.append(self.times_of(self.path.breaks))
        if self.place is not None and self.place.schedule is not None:
            times.append(self.place.schedule.breaks - self.place.start)
            width = min(_CORNER * self.place.schedule.weave.amplitude / self.path.length, 0.5)
            times.append(self.times_of(np.array([width, 1 - width])))
        found = np.sort(np.concatenate(times))
        found = found[(found >= 0.0) & (found <= self.travel_time)]
        return np.asarray(found[np.diff(found, prepend=-1.0) > 0])

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
        steps = math.ceil(count)
        return self.times_of(np.arange(steps + 1) / steps)

    def times_of(self, shares: Array) -> Array:
        """Return times ``(n,)`` at which shares ``(n,)`` of the path are done."""
        if self.place is not None and self.place.schedule is not None:
            gone = self.place.gone + shares * self.place.travel
            times = self.place.schedule.time_of(gone) - self.place.start
            times[shares <= 0], times[shares >= 1] = 0.0, self.travel_time
            return np.asarray(times)
        if self.law is None:
            return np.asarray(shares * self.travel_time)
        return times_by(self.law, shares)


def times_by(law: Law | None, shares: Array) -> Array:
    """Return times ``(n,)`` at which shares ``(n,)``, from 0 up to 1, are done; 0 without a law."""
    if law is None:
        return np.zeros_like(shares)
    times = law.time_of(shares)
    times[0], times[-1] = 0.0, law.duration
    return np.asarray(times)


def _directions_of(path: ToolPath, share: float, tilt: float) -> tuple[Array, Array]:
    """Return unit vectors ``(1, 3)`` to the left and along the travel at a share of a path."""
    at = np.array([share])
    travel = path.tangents(at)
    return _left(travel, path.poses(at)[:, :3, 2], tilt), travel


def _left(travel: Array, tool_z: Array, tilt: float) -> Array:
    """Return unit vectors to the left of the travel, square to travel and torch; ``(n, 3)``.

    ``tilt`` turns them about the travel, towards the torch's body.
    """
    left = np.cross(-tool_z, travel)
    size = np.linalg.norm(left, axis=-1, keepdims=True)
    if (size < 1e-3).any():
        raise MotionError("the torch points along the seam, so a weave has no side to go to")
    left = left / size
    if tilt == 0.0:
        return np.asarray(left)
    return np.asarray(np.cos(tilt) * left + np.sin(tilt) * np.cross(travel, left))


def _mixed(a: Array, b: Array, w: Array) -> Array:
    """Return unit vectors on the way from ``a`` to ``b`` ``(n, 3)``; ``w (n, 1)`` from 0 to 1."""
    mixed = (1 - w) * a + w * b
    size = np.linalg.norm(mixed, axis=-1, keepdims=True)
    if (size < 1e-3).any():
        raise MotionError("a joined seam turns back on itself, where a weave has no side to go to")
    return np.asarray(mixed / size)


def _require_sane(seconds: float) -> None:
    """Refuse a move that takes longer than LONGEST_MOVE: a speed in a wrong unit."""
    if not seconds <= LONGEST_MOVE:
        raise MotionError(f"it would take {seconds:.3g} s at this speed; is the unit right?")


def seam_places(paths: list[ToolPath], speed: float, weave: Weave | None) -> list[SeamPlace]:
    """Lay one even travel, and one weave, over all pieces of a seam."""
    travels = []
    for path in paths:
        if path.length <= 0:
            raise MotionError("a seam needs a length: its start and end are the same place")
        travels.append(path.length / speed)
    _require_sane(sum(travels))
    for number, (path, following) in enumerate(itertools.pairwise(paths)):
        end, start = path.tangents(np.ones(1))[0], following.tangents(np.zeros(1))[0]
        if float(end @ start) < _TURNS_BACK:
            raise MotionError(
                f"piece {number + 2} of the joined seam turns back on the one before it"
            )
    schedule = None if weave is None else WeaveSchedule(weave, sum(travels))
    _require_sane(0.0 if schedule is None else schedule.duration)
    gone = np.concatenate([[0.0], np.cumsum(travels)])
    return [
        SeamPlace(
            schedule,
            float(gone[i]),
            travels[i],
            paths[i - 1] if i > 0 else None,
            paths[i + 1] if i + 1 < len(paths) else None,
        )
        for i in range(len(paths))
    ]


def cartesian_motion(
    cell: Cell,
    move: Move,
    path: ToolPath,
    held_start: Array,
    held_end: Array,
    place: SeamPlace | None = None,
) -> CartesianMotion:
    """Time a path: a seam travels evenly, any other move rests to rest.

    ``place``: where a seam's piece lies in the whole seam; a seam of its own when not given.
    """

    def motion(law: Law | None, seconds: float, where: SeamPlace | None) -> CartesianMotion:
        _require_sane(seconds)
        return CartesianMotion(
            path, cell.T_base_world, cell.table, held_start, held_end, law, where,
            seconds, cell.torch.T_tcp_flange,
        )  # fmt: skip

    if move.arc_on:
        where = seam_places([path], move.speed, move.weave)[0] if place is None else place
        return motion(None, where.duration, where)
    law = law_along(cell, min(move.speed, cell.tip_speed), path, held_end - held_start)
    if law is None:
        return motion(Trapezoid(0.0, 1.0, 1.0), 0.0, None)
    return motion(law, law.duration, None)


def law_along(cell: Cell, speed: float, path: ToolPath, carried: Array) -> Law | None:
    """Law over the share of a path from rest to rest, at ``speed`` of the tip, m/s; None for none.

    ``carried (k,)``: how far the held axes go meanwhile.
    """
    rates, accelerations, jerks = [], [], []
    if path.length > 0:
        rates.append(speed / path.length)
        accelerations.append(cell.tip_acceleration / path.length)
        jerks.append(cell.tip_jerk / path.length)
    if path.turning > 1e-9:
        rates.append(TURNING_SPEED / path.turning)
        accelerations.append(TURNING_ACCELERATION / path.turning)
    for column, way in zip(cell.axes.held, np.abs(carried).tolist(), strict=True):
        if way > 1e-9:
            rates.append(float(cell.axes.speed[column] / way))
            accelerations.append(float(cell.axes.acceleration[column] / way))
            jerks.append(float(cell.axes.jerk[column] / way))
    if not rates:
        return None
    return law_of(1.0, min(rates), min(accelerations), min(jerks, default=np.inf))
