"""How fast a tool goes along its path: laws over the share of a path that is done."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import Axes, Cell
from pathsim.motion.paths import ToolPath
from pathsim.motion.time_scaling import LONGEST_MOVE, Law, law_of
from pathsim.transforms import Array

#: The tool turns at most this fast on a straight move or an arc, rad/s and rad/s^2. Only
#: matters for moves that turn much and travel little.
TURNING_SPEED = np.radians(120.0)
TURNING_ACCELERATION = np.radians(600.0)
#: A way, m, and a turn, rad (or the way of a sliding axis, m), that are none. The next move starts
#: where the arm really is, so that what is left out here never adds up.
NO_WAY, NO_TURN = 1e-9, 1e-9


class Limits(NamedTuple):
    """What a cell says of speeds: of its axes, and of the tip, m/s, m/s^2, m/s^3."""

    axes: Axes
    speed: float
    acceleration: float
    jerk: float
    override: float

    @classmethod
    def of(cls, cell: Cell) -> Limits:
        """Return those of a cell; they do not hold on to it."""
        return cls(
            cell.axes, cell.tip_speed, cell.tip_acceleration, cell.tip_jerk, cell.override
        )  # fmt: skip


def law_along(limits: Limits, speed: float, path: ToolPath, carried: Array) -> Law | None:
    """Law over the share of a path from rest to rest, at ``speed`` of the tip, m/s; None for none.

    ``carried (k,)``: how fast the held axes go for the share of the path, where they do most.
    """
    rates, accelerations, jerks = [], [], []
    if path.length > NO_WAY:
        rates.append(speed / path.length)
        accelerations.append(limits.acceleration / path.length)
        jerks.append(limits.jerk / path.length)
    if path.turning > NO_TURN:
        rates.append(TURNING_SPEED / path.turning)
        accelerations.append(TURNING_ACCELERATION / path.turning)
    for column, way in zip(limits.axes.held, np.abs(carried).tolist(), strict=True):
        if way > NO_TURN:
            rates.append(float(limits.axes.speed[column] / way))
            accelerations.append(float(limits.axes.acceleration[column] / way))
            jerks.append(float(limits.axes.jerk[column] / way))
    if not rates:
        return None
    return law_of(1.0, min(rates), min(accelerations), min(jerks, default=np.inf))


def times_by(law: Law | None, shares: Array) -> Array:
    """Return times ``(n,)`` at which shares ``(n,)``, from 0 up to 1, are done; 0 without a law."""
    if law is None:
        return np.zeros_like(shares)
    times = law.time_of(shares)
    times[0], times[-1] = 0.0, law.duration
    return np.asarray(times)


def require_sane(seconds: float) -> None:
    """Refuse a move that takes longer than LONGEST_MOVE: a speed in a wrong unit."""
    if not seconds <= LONGEST_MOVE:
        raise MotionError(f"it would take {seconds:.3g} s at this speed; is the unit right?")
