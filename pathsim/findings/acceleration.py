"""What the corners of a weave ask of the joints."""

from __future__ import annotations

import numpy as np

from pathsim.model import Cell
from pathsim.motion import MoveTrack
from pathsim.transforms import Array


def joint_acceleration(track: MoveTrack, window: float) -> Array:
    """Largest mean acceleration ``(axes,)`` of each axis over any ``window`` s of a move.

    Mean over a window, since the speed leaps at the corners of a zigzag: an arm needs some
    time for each corner, and the window is what it is given.
    """
    count = int(np.ceil(track.duration / window * 4)) + 1
    t = np.linspace(track.t[0], track.t[-1], max(count, 9))
    step = t[1] - t[0]
    behind = max(1, round(window / step))
    speed = np.diff(track.q_at(t), axis=0) / step
    if len(speed) <= behind:
        return np.zeros(track.q.shape[1])
    change = np.abs(speed[behind:] - speed[:-behind]) / (behind * step)
    return np.asarray(change.max(axis=0))


def corner_share(cell: Cell, track: MoveTrack) -> Array:
    """Share ``(axes,)`` of its acceleration that each axis needs to turn round at a weave's sides.

    In a quarter of a stroke; zeros without a weave.
    """
    weave = track.move.weave
    if weave is None or len(track.t) < 3:
        return np.zeros(track.q.shape[1])
    return joint_acceleration(track, weave.stroke / 4) / np.asarray(cell.axes.acceleration)
