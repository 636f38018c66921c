"""Clearance while an arm rounds a corner, however it does so.

Arms differ in how they round a taught point, so no single way is measured but a whole family:
every posture whose joint values are some mixture of those that the two moves have within the
rounding distance of the corner, from the sharp corner to the straight cut across. Those
postures lie in the convex hull of the knots there, hence within ``slack`` of the triangle
between the zone's start, the corner and the zone's end (a hull of points that are each within
``slack`` of a convex set stays within it).

The proof. Going from joint values q to q', no point of a piece moves more than
``sum_j L_j |q'_j - q_j|`` (``L_j``: its levers). So over a triangle with centroid c the distance
is at least ``d(c) - max over its corners v of sum_j L_j |v_j - c_j| - slack``; the largest
value of a convex function over a triangle is at a corner. Triangles are halved until that
bound is within the tolerance of the smallest distance seen, or a number of looks is used up:
then the interval is left wider, which is still true.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from pathsim.clearance.records import Clearance
from pathsim.model import Cell
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array

#: Width of a corner's interval, m. Wider than on a move: the family itself is an estimate.
TOLERANCE = 1e-3
_MOST_LOOKS = 600


class Corner(NamedTuple):
    """A rounded corner: zone of the move before, of the move behind, and their knots.

    ``start`` and ``end`` s; ``before (n, axes)`` from the zone's start to the corner,
    ``behind (m, axes)`` from the corner to the zone's end.
    """

    point: str
    start: float
    time: float
    end: float
    before: Array
    behind: Array


class Seen(NamedTuple):
    """Distance and nearest points in the world at some joint values."""

    distance: float
    on_moving: Array
    on_standing: Array


def corner_of(cell: Cell, track: MoveTrack, following: MoveTrack | None) -> Corner | None:
    """Return the corner at the end of ``track``; None when the arm stops there."""
    distance = track.move.rounding
    if distance <= 0 or following is None or not following.continuous:
        return None
    if track.fault is not None or len(track.t) < 2 or len(following.t) < 2:
        return None
    first = _knots_within(cell, track.q[::-1], distance)
    second = _knots_within(cell, following.q, distance)
    return Corner(
        track.move.target,
        float(track.t[-first]),
        float(track.t[-1]),
        float(following.t[second - 1]),
        track.q[-first:],
        following.q[:second],
    )


def _knots_within(cell: Cell, q: Array, distance: float) -> int:
    """How many knots from the corner on are within ``distance`` of way, and the next one.

    Never more than half of the move: an arm cannot be rounding two corners at once.
    """
    tips = cell.tips_on_part(q)
    way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(tips, axis=0), axis=1))])
    reach = min(distance, float(way[-1]) / 2)
    inside = int(np.searchsorted(way, reach, side="right"))
    return min(inside + 1, len(q))


def corner_clearance(
    corner: Corner, levers: Array, look: Callable[[Array], Seen], cap: float
) -> Clearance:
    """Clearance interval of one pair over a corner's whole family.

    ``levers (axes,)`` of the piece against what it is measured to; ``look(q (axes,))`` gives the
    exact distance at joint values.
    """
    a, c, b = corner.before[0], corner.before[-1], corner.behind[-1]
    slack = max(_off_line(corner.before, a, c, levers), _off_line(corner.behind, c, b, levers))
    best = look(c)
    counter = itertools.count()
    heap: list[tuple[float, int, Array]] = []

    def push(triangle: Array) -> None:
        nonlocal best
        centre = triangle.mean(axis=0)
        seen = look(centre)
        if seen.distance < best.distance:
            best = seen
        radius = float((np.abs(triangle - centre) @ levers).max())
        heapq.heappush(heap, (seen.distance - radius, next(counter), triangle))

    push(np.array([a, c, b]))
    looks = 2
    while best.distance > 0 and looks < _MOST_LOOKS:
        lower, _, triangle = heap[0]
        if lower >= min(best.distance, cap + slack + PATH_ERROR) - TOLERANCE:
            break
        heapq.heappop(heap)
        for half in _halved(triangle, levers):
            push(half)
        looks += 2
    lower = min(heap[0][0], best.distance) - slack - PATH_ERROR
    is_capped = lower >= cap - TOLERANCE and best.distance > cap
    return Clearance(
        lower=min(max(lower, 0.0), cap),
        upper=best.distance,
        time=corner.time,
        on_moving=best.on_moving,
        on_standing=best.on_standing,
        is_capped=is_capped,
    )


def _off_line(q: Array, start: Array, end: Array, levers: Array) -> float:
    """Farthest that knots ``q`` are from the line between two of them, in way of the piece, m."""
    way = (end - start) * levers
    size = float(way @ way)
    share = np.zeros(len(q)) if size == 0 else np.clip((q - start) * levers @ way / size, 0, 1)
    return float((np.abs(q - start - share[:, None] * (end - start)) @ levers).max())


def _halved(triangle: Array, levers: Array) -> tuple[Array, Array]:
    """Cut a triangle ``(3, axes)`` through the middle of its longest side."""
    sides = [float(np.abs(triangle[i] - triangle[(i + 1) % 3]) @ levers) for i in range(3)]
    i = int(np.argmax(sides))
    p, q, r = triangle[i], triangle[(i + 1) % 3], triangle[(i + 2) % 3]
    middle = (p + q) / 2
    return np.array([p, middle, r]), np.array([middle, q, r])
