"""Rest to rest with a trapezoid of speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pathsim.errors import MotionError
from pathsim.transforms import Array

#: A single move that takes longer than this is a mistake, s.
LONGEST_MOVE = 3600.0


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
        if not (self.speed > 0 and self.acceleration > 0 and self.distance >= 0):
            raise MotionError(f"a move needs speed and acceleration above zero: {self}")

    @property
    def ramp(self) -> float:
        """Time of one ramp, s."""
        if self.distance == 0:
            return 0.0
        reached = self.speed / self.acceleration
        return min(reached, float(np.sqrt(self.distance / self.acceleration)))

    @property
    def duration(self) -> float:
        """Time of the whole, s."""
        ramp = self.ramp
        return 0.0 if ramp == 0 else self.distance / (self.acceleration * ramp) + ramp

    def position(self, t: ArrayLike) -> Array:
        """Distance covered at times ``t`` ``(...)``."""
        time: Array = np.clip(np.asarray(t, np.float64), 0.0, self.duration)
        ramp, a = self.ramp, self.acceleration
        peak = a * ramp
        rising = 0.5 * a * time**2
        cruising = peak * (time - ramp / 2)
        falling = self.distance - 0.5 * a * (self.duration - time) ** 2
        return np.where(
            time <= ramp, rising, np.where(time <= self.duration - ramp, cruising, falling)
        )

    @property
    def breaks(self) -> Array:
        """Times where the acceleration jumps, first and last included, apart from each other.

        Without a cruise the two ramps meet; rounding must not make two times of that one.
        """
        times = [0.0, self.ramp, self.duration]
        if self.duration - 2 * self.ramp > 1e-6 * self.duration:
            times.insert(2, self.duration - self.ramp)
        return np.unique(times)


def synchronised(distances: Array, speeds: Array, accelerations: Array) -> Trapezoid:
    """One law over the share 0..1 that no joint's speed or acceleration exceeds.

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
    return Trapezoid(1.0, speed, acceleration if np.isfinite(acceleration) else speed * 1e3)
