"""Tracks of moves as they are made: from where the arm is, at time 0."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.model import Axes, Move
from pathsim.motion.kept_values import NO_WAY, Lazy, TipWay
from pathsim.motion.time_scaling import SHORTEST_MOVE
from pathsim.motion.trajectory import MoveFault, MoveTrack
from pathsim.motion.two_ways import NOT_TWO, TwoWays
from pathsim.transforms import Array

#: Decimals that tell where a straight move, an arc or a seam ends, rad or m.
_SAME_ARRIVAL = 12


class MoveStart(NamedTuple):
    """A move, and where the arm is when it starts, ``q (axes,)``; its tracks begin at time 0."""

    which: int
    move: Move
    where: str
    q: Array
    continuous: bool

    def track(
        self, t: Array, q: Array, speed_ratio: Array, planned: float, fault: MoveFault | None,
        way: Lazy[TipWay], slow: Lazy[float], fork: Lazy[TwoWays | None] = NOT_TWO,
    ) -> MoveTrack:  # fmt: skip
        """Return the track with these knots."""
        return MoveTrack(
            self.which, self.move, self.where, t, q, speed_ratio, planned, fault, self.continuous,
            way, slow, fork,
        )  # fmt: skip

    def standing(self, fault: MoveFault | None, *seconds: float) -> MoveTrack:
        """Return a track on which nothing moves: for one time after the other.

        They are times at any override.
        """
        t, q, speed_ratio = np.zeros(1), self.q[None], np.zeros((0, len(self.q)))
        for each in seconds:
            t, q, speed_ratio = with_standing(t, q, speed_ratio, each)
        whole = float(t[-1])
        return self.track(t, q, speed_ratio, whole, fault, NO_WAY, Lazy(lambda: whole))


def with_standing(
    t: Array, q: Array, speed_ratio: Array, seconds: float
) -> tuple[Array, Array, Array]:
    """Add a stretch at the end in which nothing moves, for SHORTEST_MOVE at the least."""
    if seconds <= 0:
        return t, q, speed_ratio
    until, still = t[-1] + max(seconds, SHORTEST_MOVE), np.zeros((1, q.shape[1]))
    return np.append(t, until), np.vstack([q, q[-1]]), np.vstack([speed_ratio, still])


def after_standing(
    t: Array, q: Array, speed_ratio: Array, seconds: float
) -> tuple[Array, Array, Array]:
    """Add a stretch at the start in which nothing moves, for SHORTEST_MOVE at the least."""
    if seconds <= 0:
        return t, q, speed_ratio
    until, still = max(seconds, SHORTEST_MOVE), np.zeros((1, q.shape[1]))
    return np.append(0.0, t + until), np.vstack([q[0], q]), np.vstack([still, speed_ratio])


def without_last_bits(q: Array, axes: Axes) -> Array:
    """Return knots ``(n, axes)`` whose last one is told to a millionth of a millionth of a rad.

    A place that is come to from another side differs by its last bits. The next move starts
    there: it is the same move as before, and need not be laid and measured again. Held axes are
    not solved for: they stay as taught, and a table that stands still does so to the last bit.
    """
    end = np.round(q[-1], _SAME_ARRIVAL) + 0.0  # and no zero below zero
    for column in axes.held:
        end[column] = q[-1, column]
    q[-1] = end
    return q
