"""How fast the wire's tip goes in the room, and which override keeps it at reduced speed.

ISO 10218-1 allows at most 250 mm/s of the tool centre point in manual reduced speed. Running
slower caps the speed along each move and leaves the accelerations as they are: where a move comes
near its cap the tip slows down by the override, elsewhere by less. A seam is stretched evenly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.model import Cell, MoveKind
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Array

#: Most of the tool centre point in manual reduced speed, m/s (ISO 10218-1).
REDUCED_SPEED = 0.250
#: In so many parts it is looked how fast the tip goes from one knot of a joint move to the next.
_PARTS = 4


@dataclass(frozen=True, eq=False)
class TipSpeed:
    """The tip between the knots of one move: ``speed (n,)`` m/s in the room at full override.

    ``of_cap (n,)``: the speed along the move as a share of what the program asks for.
    """

    speed: Array
    of_cap: Array

    def most(self, override: float) -> float:
        """Return the largest speed at an override, m/s; never less than the true one."""
        slowed = np.minimum(1.0, override / np.maximum(self.of_cap, 1e-9))
        return float((self.speed * slowed).max(initial=0.0))


@dataclass(frozen=True, eq=False)
class TipSpeeds:
    """The tip on all moves of a program, in their order."""

    moves: tuple[TipSpeed, ...]

    @classmethod
    def of(cls, cell: Cell, trajectory: Trajectory) -> TipSpeeds:
        """Look at every move, as far as it was laid."""
        return cls(tuple(tip_speed(cell, track) for track in trajectory.tracks))

    def most(self, override: float) -> tuple[float, int]:
        """Return the largest tip speed at an override, m/s, and its move's number from 1."""
        speeds = [move.most(override) for move in self.moves]
        fastest = max(range(len(speeds)), key=speeds.__getitem__)
        return speeds[fastest], fastest + 1

    def override_for(self, limit: float = REDUCED_SPEED) -> float | None:
        """Return the largest override in whole percents that keeps all moves within a limit, m/s.

        None where one percent is not enough.
        """
        for percents in range(100, 0, -1):
            if self.most(percents / 100)[0] <= limit:
                return percents / 100
        return None


def tip_speed(cell: Cell, track: MoveTrack) -> TipSpeed:
    """Return the speeds of the tip on one move, as far as it was laid."""
    dt = np.diff(track.t)
    speed = np.linalg.norm(np.diff(cell.tips(track.q), axis=0), axis=1) / dt
    move = track.move
    if move.arc_on:
        return TipSpeed(speed, np.ones(len(dt)))
    if move.kind is MoveKind.JOINT:
        speed = np.maximum(speed, _most_between(cell, track, dt))
        rates = np.abs(np.diff(track.q, axis=0)) / dt[:, None]
        return TipSpeed(speed, (rates / (cell.axes.speed * move.speed)).max(axis=1, initial=0.0))
    along = np.linalg.norm(np.diff(cell.tips_on_part(track.q), axis=0), axis=1) / dt
    cap = min(cell.tip_speed, move.speed)
    # While it speeds up or slows down, the most from one knot to the next is more than the mean:
    # by no more than half of what it gains there.
    most = np.minimum(along + cell.tip_acceleration * dt / 2, np.maximum(along, cap))
    gains = np.divide(most, along, out=np.ones_like(most), where=along > 0)
    return TipSpeed(speed * gains, most / cap)


def _most_between(cell: Cell, track: MoveTrack, dt: Array) -> Array:
    """Return the largest speed of the tip from each knot to the next ``(n,)``, m/s.

    Joints turn evenly there and the tip does not: its mean between knots is up to 1 % less.
    """
    shares = np.linspace(0.0, 1.0, _PARTS + 1)
    q = track.q[:-1, None] + shares[:, None] * np.diff(track.q, axis=0)[:, None]
    tips = cell.tips(q.reshape(-1, track.q.shape[1])).reshape(len(dt), _PARTS + 1, 3)
    means = np.linalg.norm(np.diff(tips, axis=1), axis=2) * (_PARTS / dt)[:, None]
    # Means are those of the middles of parts: half a part further on is the knot itself.
    ends = 1.5 * means[:, [0, -1]] - 0.5 * means[:, [1, -2]]
    return np.asarray(np.maximum(means.max(axis=1), ends.max(axis=1)))
