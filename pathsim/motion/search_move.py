"""A touch search as it is laid: to the point as taught, its overtravel, and that back again.

Where the arm meets the body it stops; where it meets nothing it goes on to the end of the
overtravel. All of that way is laid, so that all of it is measured. The way back stands for none
that the arm goes: what follows a search is checked from the point as taught, where the body is
drawn, and not from wherever it is met.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from pathsim.errors import MotionError
from pathsim.model import Cell
from pathsim.model.wanted_contact import Search
from pathsim.motion.kept_values import Lazy
from pathsim.motion.move_start import MoveStart, with_standing
from pathsim.motion.path_timing import NO_WAY
from pathsim.motion.paths import LinePath, ToolPath
from pathsim.motion.targets import Targets
from pathsim.motion.trajectory import MoveFault, MoveTrack
from pathsim.motion.two_ways import TwoWays
from pathsim.transforms import Array

#: Ways that differ by less are one, m: knots are told to a millionth of a millionth of a rad.
_SAME_WAY = 1e-7
#: Lays a straight move, along another path than its points make where one is given.
Layer = Callable[[MoveStart, ToolPath | None], MoveTrack]


class SearchTimes(NamedTuple):
    """When a search is at the point as taught, and at the end of its overtravel, s.

    Of a search that was not laid so far: its last moment.
    """

    taught: float
    turned: float


def search_track(
    cell: Cell, targets: Targets, begin: MoveStart, search: Search, lay: Layer
) -> MoveTrack:
    """Return the track of a search from time 0. Raises MotionError where it has no direction."""
    straight = replace(begin.move, search=None, wait=0.0, pauses=())
    there = lay(begin._replace(move=straight), None)
    if there.fault is None and there.tip_length <= NO_WAY:
        raise MotionError(
            "a search of no length has no direction; start it away from what it looks for"
        )
    if there.fault is not None or search.overtravel <= NO_WAY:
        return _joined(begin, there, None)
    held = list(cell.axes.held)
    ends = [targets.seen_from_part(targets.reached(q), q[held]) for q in there.q[[0, -1]]]
    way = ends[1][:3, 3] - ends[0][:3, 3]
    beyond = ends[1].copy()
    beyond[:3, 3] += search.overtravel * way / np.linalg.norm(way)
    path = LinePath(ends[1], beyond)
    return _joined(begin, there, lay(begin._replace(move=straight, q=there.q[-1]), path))


def _joined(begin: MoveStart, there: MoveTrack, beyond: MoveTrack | None) -> MoveTrack:
    """Put the way to the point, the way beyond it and that way back together."""
    t, q, ratio, fault = there.t, there.q, there.speed_ratio, there.fault
    planned, slow, fork = there.planned_duration, there.slow, there.fork
    if beyond is not None:
        whole = there.planned_duration + 2 * beyond.planned_duration
        planned = whole
        t, q = _behind(t, beyond.t), np.vstack([q, beyond.q[1:]])
        ratio = np.vstack([ratio, beyond.speed_ratio])
        if beyond.fault is None:
            t, q = _behind(t, beyond.t[-1] - beyond.t[::-1]), np.vstack([q, beyond.q[-2::-1]])
            ratio = np.vstack([ratio, beyond.speed_ratio[::-1]])
            slow = Lazy(lambda: there.slow.value + 2 * beyond.slow.value)
        else:
            fault = _later(beyond.fault, there.planned_duration, beyond.planned_duration, whole)
        fork = Lazy(lambda: there.fork.value or _shifted(beyond.fork.value, there.duration))
    laid, wait = slow, begin.move.wait
    if fault is None:
        t, q, ratio = with_standing(t, q, ratio, wait)
    return begin.track(t, q, ratio, planned + wait, fault, there.way,
                       Lazy(lambda: laid.value + wait), fork)  # fmt: skip


def _behind(t: Array, other: Array) -> Array:
    """Return times ``(n + m - 1,)``: others, from 0 on, begin where the first ones end."""
    return np.concatenate([t, t[-1] + other[1:]])


def _later(fault: MoveFault, before: float, own: float, whole: float) -> MoveFault:
    """Return a fault of the overtravel as one of the whole search; times planned, s."""
    return replace(fault, share=(before + fault.share * own) / whole)


def _shifted(fork: TwoWays | None, seconds: float) -> TwoWays | None:
    return None if fork is None else replace(fork, after=seconds + fork.after)


def search_times(cell: Cell, track: MoveTrack) -> SearchTimes:
    """Return when a search is where it was taught to end, and where its overtravel ends."""
    tips = cell.tips_on_part(track.q)
    gone = np.linalg.norm(tips - tips[0], axis=1)
    turned = int(np.argmax(gone))
    taught = int(np.argmax(gone >= min(track.tip_length, gone[turned]) - _SAME_WAY))
    return SearchTimes(float(track.t[taught]), float(track.t[turned]))
