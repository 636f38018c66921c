"""What a weave asks of the joints: for turning round at its sides, and in all."""

from __future__ import annotations

import numpy as np

from pathsim.findings.centre_line import centre_tracks
from pathsim.model import Cell
from pathsim.motion import MoveTrack
from pathsim.motion.weaving import WeaveSchedule
from pathsim.transforms import Array


def joint_acceleration(track: MoveTrack, window: float) -> Array:
    """Largest mean acceleration ``(axes,)`` of each axis over any ``window`` s while it travels.

    Mean over a window, since the speed leaps at the corners of a zigzag: an arm needs some
    time for each corner, and the window is what it is given. Crater time and waits do not count:
    that the travel stops before them is not the weave's doing.
    """
    return _largest(track.q_at(_looks(track, window)), track, window)


def corner_share(cell: Cell, track: MoveTrack) -> Array:
    """Share ``(axes,)`` of its acceleration that each axis needs in a woven seam, all its motion.

    In a quarter of a stroke; zeros without a weave.
    """
    weave = track.move.weave
    if weave is None or len(track.t) < 3:
        return np.zeros(track.q.shape[1])
    return joint_acceleration(track, weave.stroke / 4) / np.asarray(cell.axes.acceleration)


def woven_share(cell: Cell, track: MoveTrack) -> Array:
    """Return the same ``(axes,)`` of the weave's own part of the motion, without the travel's."""
    weave, plain = track.move.weave, centre_tracks(cell).tracks[track.index]
    if weave is None or min(len(track.t), len(plain.t)) < 3 or plain.fault is not None:
        return np.zeros(track.q.shape[1])
    window = weave.stroke / 4
    t = _looks(track, window)
    centre = plain.q_at(plain.travel_start + travelled(cell, track, t - track.travel_start))
    return _largest(track.q_at(t) - centre, track, window) / np.asarray(cell.axes.acceleration)


def _looks(track: MoveTrack, window: float) -> Array:
    count = int(np.ceil(track.travel_seconds / window * 4)) + 1
    return np.linspace(track.travel_start, track.travel_start + track.travel_seconds, max(count, 9))


def _largest(q: Array, track: MoveTrack, window: float) -> Array:
    step = track.travel_seconds / (len(q) - 1)
    behind = max(1, round(window / step))
    speed = np.diff(q, axis=0) / step
    if len(speed) <= behind:
        return np.zeros(q.shape[1])
    change = np.abs(speed[behind:] - speed[:-behind]) / (behind * step)
    return np.asarray(change.max(axis=0))


def travelled(cell: Cell, track: MoveTrack, since: Array) -> Array:
    """Seconds of travel in this piece gone by ``(n,)`` at ``since (n,)`` s from its start.

    By the weave over the whole seam: joined pieces have one, and its dwells may hold the travel.
    """
    weave, moves, plain = track.move.weave, cell.program.moves, centre_tracks(cell).tracks
    assert weave is not None  # noqa: S101 - asked before
    first = last = track.index
    while moves[first].joined:
        first -= 1
    while last + 1 < len(moves) and moves[last + 1].joined:
        last += 1
    travels = [plain[k].travel_seconds for k in range(first, last + 1)]
    schedule = WeaveSchedule(weave, sum(travels))
    gone = sum(travels[: track.index - first])
    start = float(schedule.time_of(np.array([gone]))[0])
    return np.clip(schedule.travelled(start + since) - gone, 0.0, plain[track.index].travel_seconds)
