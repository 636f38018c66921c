"""Rest to rest with a trapezoid of speed, or with a limit of jerk."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from pathsim.errors import MotionError
from pathsim.transforms import Array

#: A single move that takes longer than this is a mistake, s.
LONGEST_MOVE = 3600.0
#: A move takes this long at the least, however short its way, s: times of knots are told to a
#: nanosecond, and what is shorter than the clock can tell must not be left out.
SHORTEST_MOVE = 1e-5


@dataclass(frozen=True)
class Trapezoid:
    """From 0 to ``distance`` at most at ``speed``, with ``acceleration`` at both ends.

    Any consistent units. Duration ``h/v + v/a``, or ``2 sqrt(h/a)`` when the speed is not
    reached (Lynch and Park, Modern Robotics, ch. 9).
    """

    distance: float
    speed: float
    acceleration: float

    def __post_init__(self) -> None:
        if not (self.speed > 0 and 0 < self.acceleration < np.inf and self.distance >= 0):
            raise MotionError(f"a move needs speed and acceleration above zero: {self}")

    @cached_property
    def ramp(self) -> float:
        """Time of one ramp, s."""
        if self.distance == 0:
            return 0.0
        reached = self.speed / self.acceleration
        return min(reached, float(np.sqrt(self.distance / self.acceleration)))

    @cached_property
    def duration(self) -> float:
        """Time of the whole, s."""
        ramp = self.ramp
        return 0.0 if ramp == 0 else self.distance / (self.acceleration * ramp) + ramp

    @property
    def cruise(self) -> tuple[float, float]:
        """When the speed is even: start and end, s."""
        return self.ramp, self.duration - self.ramp

    def position(self, t: ArrayLike) -> Array:
        """Distance covered at times ``t`` ``(...)``."""
        time = np.minimum(np.maximum(np.asarray(t, np.float64), 0.0), self.duration)
        ramp, a = self.ramp, self.acceleration
        peak = a * ramp
        rising = 0.5 * a * time**2
        cruising = peak * (time - ramp / 2)
        falling = self.distance - 0.5 * a * (self.duration - time) ** 2
        return np.where(
            time <= ramp, rising, np.where(time <= self.duration - ramp, cruising, falling)
        )

    @property
    def phases(self) -> Array:
        """Start of each phase; distance, speed, acceleration and jerk then, ``(3, 5)``."""
        ramp, a = self.ramp, self.acceleration
        until = 0.5 * a * ramp**2
        return np.array(
            [
                [0.0, 0.0, 0.0, a, 0.0],
                [ramp, until, a * ramp, 0.0, 0.0],
                [self.duration - ramp, self.distance - until, a * ramp, -a, 0.0],
            ]
        )

    def time_of(self, distance: ArrayLike) -> Array:
        """Return times at which distances ``(...)`` from 0 to the whole are covered."""
        given: Array = np.asarray(distance, np.float64)
        ramp, a, whole = self.ramp, self.acceleration, self.duration
        if ramp == 0:
            return np.zeros_like(given)
        covered = np.minimum(np.maximum(given, 0.0), self.distance)
        # The way from the nearer end: the second half is the first one backwards.
        rest = self.distance - covered
        way = np.minimum(covered, rest)
        in_ramp = 0.5 * a * ramp**2
        time = np.where(way <= in_ramp, np.sqrt(way * (2 / a)), way / (a * ramp) + ramp / 2)
        return np.where(covered <= rest, time, whole - time)

    @property
    def breaks(self) -> Array:
        """Times where the acceleration jumps, first and last included, apart from each other.

        Without a cruise the two ramps meet; rounding must not make two times of that one.
        """
        times = [0.0, self.ramp, self.duration]
        if self.duration - 2 * self.ramp > 1e-6 * self.duration:
            times.insert(2, self.duration - self.ramp)
        return np.array(sorted(set(times)))


@dataclass(frozen=True)
class SmoothLaw:
    """From 0 to ``distance`` with limits of speed, acceleration and jerk, rest to rest.

    Seven phases: jerk up, even acceleration, jerk down, cruise, and the same mirrored. Closed
    form of its times: Biagiotti and Melchiorri, Trajectory Planning for Automatic Machines
    and Robots, ch. 3 (double S), written anew from the equations of motion.
    """

    distance: float
    speed: float
    acceleration: float
    jerk: float

    def __post_init__(self) -> None:
        if not (min(self.speed, self.acceleration, self.jerk) > 0 and self.distance >= 0):
            raise MotionError(f"a move needs speed, acceleration and jerk above zero: {self}")

    @cached_property
    def _phases(self) -> tuple[Array, Array]:
        """Durations ``(7,)`` and jerks ``(7,)`` of the phases."""
        h, v, a, j = self.distance, self.speed, self.acceleration, self.jerk
        ramp = a / j if v * j >= a * a else float(np.sqrt(v / j))
        rise = ramp + v / a if v * j >= a * a else 2 * ramp
        cruise = h / v - rise
        if cruise < 0:  # the speed is not reached
            cruise = 0.0
            if h >= 2 * a**3 / j**2:
                ramp = a / j
                rise = ramp / 2 + float(np.sqrt((ramp / 2) ** 2 + h / a))
            else:
                ramp = float(np.cbrt(h / (2 * j)))
                rise = 2 * ramp
        even = max(rise - 2 * ramp, 0.0)
        times = np.array([ramp, even, ramp, cruise, ramp, even, ramp])
        return times, j * np.array([1.0, 0, -1, 0, -1, 0, 1])

    @cached_property
    def duration(self) -> float:
        """Time of the whole, s."""
        return float(self._phases[0].sum())

    @property
    def cruise(self) -> tuple[float, float]:
        """When the speed is even: start and end, s."""
        times = self._phases[0]
        return float(times[:3].sum()), float(times[:4].sum())

    def position(self, t: ArrayLike) -> Array:
        """Distance covered at times ``t`` ``(...)``."""
        times, jerks = self._phases
        time: Array = np.clip(np.asarray(t, np.float64), 0.0, self.duration)
        # The second half mirrors the first, which also keeps the end exact.
        middle = self.duration / 2
        first = np.minimum(time, self.duration - time)
        covered = np.zeros_like(first)
        speed = acceleration = place = begin = 0.0
        for length, jerk in zip(times[:4], jerks[:4], strict=True):
            x = first - begin
            here = place + speed * x + acceleration * x**2 / 2 + jerk * x**3 / 6
            covered = np.where(x >= 0, here, covered)
            place += speed * length + acceleration * length**2 / 2 + jerk * length**3 / 6
            speed += acceleration * length + jerk * length**2 / 2
            acceleration += jerk * length
            begin += length
        return np.where(time <= middle, covered, self.distance - covered)

    @property
    def phases(self) -> Array:
        """Start of each phase; distance, speed, acceleration and jerk then, ``(7, 5)``."""
        rows = []
        start = place = speed = acceleration = 0.0
        for length, jerk in zip(*(part.tolist() for part in self._phases), strict=True):
            rows.append([start, place, speed, acceleration, jerk])
            place += speed * length + acceleration * length**2 / 2 + jerk * length**3 / 6
            speed += acceleration * length + jerk * length**2 / 2
            acceleration += jerk * length
            start += length
        return np.array(rows)

    def time_of(self, distance: ArrayLike) -> Array:
        """Return times at which distances ``(...)`` are covered, by 4000 steps of even motion."""
        dense = np.linspace(0.0, self.duration, 4001)
        return np.asarray(np.interp(np.asarray(distance, float), self.position(dense), dense))

    @property
    def breaks(self) -> Array:
        """Times where the jerk jumps, first and last included, apart from each other."""
        edges = np.concatenate([[0.0], np.cumsum(self._phases[0])])
        kept = edges[np.concatenate([[True], np.diff(edges) > 1e-6 * max(self.duration, 1e-12)])]
        kept[-1] = self.duration
        return np.asarray(kept)


Law = Trapezoid | SmoothLaw


def law_of(distance: float, speed: float, acceleration: float, jerk: float = np.inf) -> Law:
    """Return the law for these limits; without a limit of jerk a trapezoid of speed.

    An acceleration that is not known (inf) reaches the speed in a thousandth of the time that the
    distance takes at it. The law lasts SHORTEST_MOVE at the least.
    """
    if not np.isfinite(acceleration):
        acceleration = speed * 1e3
    if not np.isfinite(acceleration):
        raise MotionError("a move needs a speed limit to have a duration")
    if np.isfinite(jerk) and distance > 0:
        return _no_shorter(SmoothLaw(distance, speed, acceleration, jerk))
    return _no_shorter(Trapezoid(distance, speed, acceleration))


def _no_shorter(law: Law) -> Law:
    """Return a law of the same shape that lasts SHORTEST_MOVE, where this one is shorter."""
    if law.distance == 0 or law.duration >= SHORTEST_MOVE:
        return law
    k = SHORTEST_MOVE / law.duration
    speed, acceleration = law.speed / k, law.acceleration / k**2
    if isinstance(law, SmoothLaw):
        return SmoothLaw(law.distance, speed, acceleration, law.jerk / k**3)
    return Trapezoid(law.distance, speed, acceleration)


def synchronised(
    distances: Array, speeds: Array, accelerations: Array, jerks: Array | None = None
) -> Law:
    """One law over the share 0..1 that no joint's speed, acceleration or jerk exceeds.

    All joints start and stop together and keep their proportions, so that a joint move is
    a straight line in joint space. A joint without a known acceleration only has its speed.
    """
    h = np.abs(distances)
    moving = h > 0
    if not moving.any():
        return Trapezoid(0.0, 1.0, 1.0)
    speed = float((speeds[moving] / h[moving]).min())
    acceleration = float((accelerations[moving] / h[moving]).min())
    if not np.isfinite(speed):
        raise MotionError("a joint move needs joint speed limits to have a duration")
    jerk = np.inf if jerks is None else float((jerks[moving] / h[moving]).min())
    return law_of(1.0, speed, acceleration, jerk)
