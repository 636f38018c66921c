"""Clearance while an arm rounds a corner, however it does so.

Arms differ in how they round a taught point, so no single way is measured but a whole family:
every posture ``(1 - u) q_in + u q_out`` that mixes, in some share u from 0 to 1, a posture
that the move before has within the rounding distance of the corner with one that the move
behind has there. The sharp corner and the straight cut across are among them.

The proof. Both zones are cut into a few pieces; a piece's knots lie within ``slack`` of the
chord between its ends, so that a mixture of two such knots lies within the larger slack of the
same mixture of points on the chords. Those mixtures lie in the tetrahedron of the four ends.
Going straight from joint values c to q, a point p moves at most ``|J_p (q - c)| + A(q - c) / 2``
with its Jacobian at c and the bound A on its second derivative
(``relative_chain.curvature_bound``). Both are convex in q - c, and the first in p too, so that over
a tetrahedron with centroid c they are largest at its corners v and at a corner of the piece's box;
the distance is at least
``d(c) - max_v (max_p |J_p (v - c)| + A(v - c) / 2) - slack``. Tetrahedra are halved until that
bound is within the tolerance of the smallest distance seen, or a number of looks is used up:
then the interval is left wider, which is still true.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from pathsim.clearance.records import Clearance
from pathsim.model import Cell
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array

#: Width of a corner's interval, m. Wider than on a move: the family itself is an estimate.
TOLERANCE = 1e-3
_MOST_LOOKS = 1500
#: Zones are cut finer until the interval is about this wide, m.
_PARTS = (1, 3, 6)
_GOOD = 1.5e-3


class Corner(NamedTuple):
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


class Seen(NamedTuple):
    """Distance and nearest points in the world at some joint values."""

    distance: float
    on_moving: Array
    on_standing: Array


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


def corner_clearance(
    corner: Corner,
    levers: Array,
    look: Callable[[Array], Seen],
    reach: Callable[[Array, Array], float],
    cap: float,
) -> Clearance:
    """Clearance interval of one pair over a corner's whole family.

    ``levers (axes,)`` of the piece against what it is measured to; ``look(q (axes,))`` gives the
    exact distance at joint values; ``reach(c (axes,), deltas (k, axes))`` a bound on how far any
    point of the piece moves from c by any mixture of the deltas.
    """
    best = look(corner.before[-1])
    lower = -np.inf
    for parts in _PARTS:
        bound, best = _search(corner, parts, levers, (look, reach), best, cap)
        lower = max(lower, bound)  # each holds; the highest says most
        if best.distance == 0 or lower >= min(best.distance, cap) - _GOOD:
            break
    return Clearance(
        lower=min(max(lower, 0.0), cap),
        upper=best.distance,
        time=corner.time,
        on_moving=best.on_moving,
        on_standing=best.on_standing,
        is_capped=lower >= cap - TOLERANCE and best.distance > cap,
    )


def _search(
    corner: Corner,
    parts: int,
    levers: Array,
    ask: tuple[Callable[[Array], Seen], Callable[[Array, Array], float]],
    best: Seen,
    cap: float,
) -> tuple[float, Seen]:
    """Lower bound over the family with each zone cut into ``parts``, and the nearest seen."""
    look, reach = ask
    counter = itertools.count()
    heap: list[tuple[float, int, Array, float]] = []

    def push(solid: Array, slack: float) -> None:
        nonlocal best
        centre = solid.mean(axis=0)
        seen = look(centre)
        if seen.distance < best.distance:
            best = seen
        radius = reach(centre, solid - centre)
        bound = seen.distance - radius - slack - PATH_ERROR
        heapq.heappush(heap, (bound, next(counter), solid, slack))

    pieces = [_chords(knots, parts, levers) for knots in (corner.before, corner.behind)]
    for (a, b, slack_in), (c, d, slack_out) in itertools.product(*pieces):
        push(np.array([a, b, c, d]), max(slack_in, slack_out))
    looks = len(heap)
    while best.distance > 0 and looks < _MOST_LOOKS:
        bound, _, solid, slack = heap[0]
        if bound + slack >= min(best.distance, cap + slack) - TOLERANCE:
            break
        heapq.heappop(heap)
        for half in _halved(solid, levers):
            push(half, slack)
        looks += 2
    return min(heap[0][0], best.distance - PATH_ERROR), best


def _chords(q: Array, parts: int, levers: Array) -> list[tuple[Array, Array, float]]:
    """Return ends and slack of the chords that stand for knots ``q``, at most ``parts``."""
    edges = np.unique(np.linspace(0, len(q) - 1, parts + 1).round().astype(int))
    return [
        (q[a], q[b], _off_line(q[a : b + 1], q[a], q[b], levers))
        for a, b in itertools.pairwise(edges)
    ]


def _off_line(q: Array, start: Array, end: Array, levers: Array) -> float:
    """Farthest that knots ``q`` are from the line between two of them, in way of the piece, m."""
    way = (end - start) * levers
    size = float(way @ way)
    share = np.zeros(len(q)) if size == 0 else np.clip((q - start) * levers @ way / size, 0, 1)
    return float((np.abs(q - start - share[:, None] * (end - start)) @ levers).max())


def _halved(solid: Array, levers: Array) -> tuple[Array, Array]:
    """Cut a tetrahedron ``(4, axes)`` through the middle of its longest edge."""
    edges = list(itertools.combinations(range(len(solid)), 2))
    sizes = [float(np.abs(solid[i] - solid[j]) @ levers) for i, j in edges]
    i, j = edges[int(np.argmax(sizes))]
    middle = (solid[i] + solid[j]) / 2
    first, second = solid.copy(), solid.copy()
    first[j], second[i] = middle, middle
    return first, second
