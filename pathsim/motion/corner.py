"""Where an arm leaves its way to round a taught point: the corner's zone on both moves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.model import Cell
from pathsim.motion.trajectory import MoveTrack
from pathsim.transforms import Array


@dataclass(frozen=True, eq=False)
class Corner:
    """A rounded corner: zone of the move before, of the move behind, and their knots.

    ``following`` is the index of the move behind. ``start``, ``time`` and ``end`` s;
    ``before (n, axes)`` from the zone's start to the corner, ``behind (m, axes)`` from the
    corner to the zone's end.
    """

    point: str
    following: int
    start: float
    time: float
    end: float
    before: Array
    behind: Array


def corner_of(cell: Cell, tracks: Sequence[MoveTrack], index: int) -> Corner | None:
    """Return the corner at the end of the move at ``index``; None when the arm stops there.

    Moves of no length behind it are looked through: the arm does not notice them.
    """
    track = tracks[index]
    distance = track.move.rounding
    if distance <= 0 or track.fault is not None or len(track.t) < 2:
        return None
    following = next((t for t in tracks[index + 1 :] if len(t.t) > 1 or t.fault is not None), None)
    if following is None or not following.continuous or len(following.t) < 2:
        return None
    if following.move.arc_on:
        return None
    first = _knots_within(cell, track.q[::-1], distance)
    second = _knots_within(cell, following.q, distance)
    return Corner(
        track.move.target,
        following.index,
        float(track.t[-first]),
        float(track.t[-1]),
        float(following.t[second - 1]),
        track.q[-first:],
        following.q[:second],
    )


def _knots_within(cell: Cell, q: Array, distance: float) -> int:
    """How many knots from the corner on are within ``distance``, and the next one.

    Nobody knows how an arm counts it: along the way or straight, in the shop or on a part that
    turns. A knot that is within it by any of these belongs to the zone.
    """
    last = 0
    for tips in (cell.tips_seen_from(frame, q) for frame in cell.frames):
        way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(tips, axis=0), axis=1))])
        straight = np.linalg.norm(tips - tips[0], axis=1)
        last = max(last, int(np.flatnonzero((way <= distance) | (straight <= distance))[-1]))
    return min(last + 2, len(q))
