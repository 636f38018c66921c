"""A straight move, an arc or a seam as an ideal motion of the flange in time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.model import Cell, Move, TurningTable, Weave
from pathsim.model.held_way import HeldWay
from pathsim.motion.path_timing import NO_WAY, Limits, law_along, require_sane, times_by
from pathsim.motion.paths import ToolPath
from pathsim.motion.seam_place import SeamPlace, seam_places
from pathsim.motion.time_scaling import Law, Trapezoid
from pathsim.transforms import Array

#: A weave turns into the next piece's directions within so many amplitudes of a corner.
_CORNER = 2.0
_COARSE_WAY = 0.03  # m
_COARSE_TURN = np.radians(5.0)


@dataclass(frozen=True, eq=False)
class CartesianMotion:
    """Poses of the flange over time for one move along ``path``.

    The path is seen from the part: from the turning table where there is one, else from the
    arm's base. Held axes (``Axes.held``) go along the path as ``held`` says. A seam has a
    ``place`` and travels evenly; any other move has a ``law``.
    """

    path: ToolPath
    T_base_world: Array
    table: TurningTable | None
    held: HeldWay
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
        """Directions ``(3,)`` to the left and along the travel at this piece's start and end.

        Half way between this piece's and its neighbour's; None where there is no neighbour.
        """
        if self.place is None or self.weave is None:
            return None, None
        return self._corner(self.place.before, 1.0), self._corner(self.place.after, 0.0)

    def _corner(self, neighbour: ToolPath | None, at: float) -> tuple[Array, Array] | None:
        from pathsim.motion.seam_frame import directions_of, half_way

        if neighbour is None or self.weave is None:
            return None
        (own_left, own_travel), (left, travel) = (
            directions_of(path, share, self.weave.tilt)
            for path, share in ((self.path, 1.0 - at), (neighbour, at))
        )
        return half_way(own_left, left), half_way(own_travel, travel)

    @property
    def breaks(self) -> Array:
        """Times of corners in speed, orientation or weave, ascending, both ends included."""
        ends = np.array([0.0, self.travel_time]) if self.law is None else self.law.breaks
        times = [ends]
        if len(self.path.breaks) > 2:
            times.append(self.times_of(self.path.breaks))
        if self.place is not None and self.place.schedule is not None:
            times.append(self.place.schedule.breaks - self.place.start)
            width = min(_CORNER * self.place.schedule.weave.amplitude / self.path.length, 0.5)
            times.append(self.times_of(np.array([width, 1 - width])))
        if len(times) == 1:
            return ends
        found = np.concatenate(times)
        found.sort()
        found = found[found.searchsorted(0.0) : found.searchsorted(self.travel_time, side="right")]
        is_new = np.ones(len(found), dtype=bool)
        np.greater(found[1:], found[:-1], out=is_new[1:])
        return np.asarray(found[is_new])

    @property
    def coarse(self) -> Array:
        """Times at most 30 mm and 5 degrees of the path apart."""
        carried = self.held.carried
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


def cartesian_motion(
    cell: Cell,
    move: Move,
    path: ToolPath,
    held: HeldWay,
    place: SeamPlace | None = None,
) -> CartesianMotion:
    """Time a path: a seam travels evenly, any other move rests to rest.

    So does a seam of no length at which the torch turns: it is a spot, and nothing is left out.

    ``place``: where a seam's piece lies in the whole seam; a seam of its own when not given.
    """

    def motion(law: Law | None, seconds: float, where: SeamPlace | None) -> CartesianMotion:
        require_sane(seconds)
        return CartesianMotion(
            path, cell.T_base_world, cell.table, held, law, where,
            seconds, cell.torch.T_tcp_flange,
        )  # fmt: skip

    if move.arc_on and path.length > NO_WAY:
        where = seam_places([path], move.speed, move.weave)[0] if place is None else place
        return motion(None, where.duration, where)
    law = law_along(Limits.of(cell), min(move.speed, cell.tip_speed), path, held.steepest)
    if law is None:
        return motion(Trapezoid(0.0, 1.0, 1.0), 0.0, None)
    return motion(law, law.duration, None)
