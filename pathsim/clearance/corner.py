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
``d(c) - max_v (max_p |J_p (v - c)| + A(v - c) / 2) - slack``. Those with the lowest bounds are
halved, many at once, until the interval is as narrow as asked, or so many looks are used up:
then it is left wider, which is still true.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from pathsim.clearance.contact_rules import Obstacle
from pathsim.clearance.engine import Engine, Pair, PairQuery, Span
from pathsim.clearance.records import Clearance
from pathsim.clearance.relative_chain import ChainId, chain_id, linkage_of, reach
from pathsim.errors import CannotCheck
from pathsim.model import Cell, Piece
from pathsim.model.linkage import Linkage
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.motion.corner import Corner
from pathsim.transforms import Array, apply

#: Width of a corner's interval, m, and as a share of the distance besides. Wider than on a move:
#: the family itself is an estimate. Where a margin lies in it, it is narrowed down to the least.
TOLERANCE, SHARE, LEAST = 1e-3, 0.05, 1e-4
_MOST_LOOKS = 3000
#: So many pieces of the family are halved at once.
_AT_ONCE = 16
#: Zones are cut finer until the interval is at most so much wider than asked, m.
_PARTS = (1, 3, 6)
_WIDER = 0.5e-3
#: Of the posture that is told, the distance is known this well, m; it stands so long, s.
_EXACT, _MOMENT = 1e-6, 1e-3


class Seen(NamedTuple):
    """A distance, m, and the posture ``q (axes,)`` in which it was seen."""

    distance: float
    q: Array


class RoundedCorner:
    """A corner of a cell, and the clearance of each pair over its whole family, worked out once.

    Both moves that share the corner ask about the same pairs. ``track``: the move before it.
    """

    def __init__(self, cell: Cell, engine: Engine, track: MoveTrack, corner: Corner) -> None:
        self.corner = corner
        self._cell, self._engine, self._track = cell, engine, track
        self._stroke = cell.axes.stroke(np.concatenate([corner.before, corner.behind]))
        self._carried: dict[tuple[ChainId, Piece], _Carried] = {}
        self._found: dict[tuple[Pair, float], Clearance] = {}

    def clearance(self, piece: Piece, standing: Obstacle, margin: float) -> Clearance:
        """Return the clearance interval of a pair over all ways of rounding the corner.

        It is narrowed until it is known whether the pair keeps ``margin``, m, if that can be told.
        """
        asked = (piece, standing), margin
        if asked not in self._found:
            self._found[asked] = self._measured(piece, standing, margin)
        return self._found[asked]

    def _measured(self, piece: Piece, standing: Obstacle, margin: float) -> Clearance:
        engine, time = self._engine, self.corner.time
        carried, cap = self._carrying(piece, standing), standing.cap_within(engine.cap)
        far = Clearance(cap, math.inf, time, None, None, is_capped=True)
        if carried.least_gap(standing) >= cap:
            return far

        def gaps(q: Array, most: float) -> Array:
            return engine.distances(piece, standing, carried.poses(q), most)

        ask = gaps, carried.reach
        lower, best = least_in_family(self.corner, carried.levers, ask, cap, margin)
        if best.distance > cap and lower >= cap - TOLERANCE:
            return replace(far, lower=min(lower, cap))
        seen = self._seen(piece, standing, best.q)
        if seen.is_inside:
            return Clearance(0.0, 0.0, time, None, None)
        # Of what is beyond the cap no points are told.
        upper = seen.upper if math.isfinite(seen.upper) else best.distance
        lower = min(max(lower, 0.0), cap, upper)
        return Clearance(lower, upper, time, seen.on_moving, seen.on_standing)

    def _seen(self, piece: Piece, standing: Obstacle, q: Array) -> Clearance:
        """Return the clearance in one posture, with its points in the world."""
        track, time = self._track, self.corner.time
        still = MoveTrack(
            track.index, track.move, track.start, np.array([time, time + _MOMENT]),
            np.stack([q, q]), np.zeros((1, len(q))), _MOMENT,
        )  # fmt: skip
        window = Span(time, time + _MOMENT)
        exact = self._engine.finer(_EXACT, self._engine.cap)
        (seen,) = exact.min_distance([PairQuery(still, piece, standing, window)])
        return seen

    def _carrying(self, piece: Piece, standing: Obstacle) -> _Carried:
        key = chain_id(piece, standing), piece
        if key not in self._carried:
            linkage = linkage_of(self._cell, key[0])
            self._carried[key] = _Carried(self.corner, linkage, piece, self._stroke)
        return self._carried[key]


class _Carried:
    """A piece on a chain, over the family of a corner."""

    def __init__(self, corner: Corner, linkage: Linkage, piece: Piece, stroke: Array) -> None:
        self._corner, self._linkage, self._piece = corner, linkage, piece
        self._levers = linkage.levers(piece.link, piece.mesh, stroke)
        #: Of all axes of the cell; 0 for those that do not move the piece.
        self.levers = np.zeros(corner.before.shape[1])
        self.levers[list(linkage.columns)] = self._levers

    def poses(self, q: Array) -> Array:
        """Poses ``(n, 4, 4)`` of its link at axes ``q (n, axes)``."""
        return self._linkage.link_poses(q)[:, self._piece.link - self._linkage.skip - 1]

    def reach(self, q: Array, deltas: Array) -> Array:
        """Return how far it goes at most, ``(n,)`` m, see ``relative_chain.reach``."""
        return reach(self._linkage, self._piece, self._levers, q, deltas)

    @cached_property
    def _whole(self) -> tuple[Array, Array]:
        """Boxes ``(n, 2, 3)`` and how far it goes from there ``(n,)`` m, the family in one."""
        solids = _pieces_of(self._corner, 1, self.levers)
        centres, deltas, slack = _laid_out(solids)
        corners = apply(self.poses(centres), self._piece.mesh.corners)
        boxes = np.stack([corners.min(axis=1), corners.max(axis=1)], axis=1)
        return boxes, self.reach(centres, deltas) + slack + PATH_ERROR

    def least_gap(self, standing: Obstacle) -> float:
        """Lower bound, m, of its distance from what stands, by boxes alone."""
        boxes, away = self._whole
        corners = apply(standing.T_ref_mesh, standing.source.corners)
        box = corners.min(axis=0), corners.max(axis=0)
        apart = np.maximum(np.maximum(boxes[:, 0] - box[1], box[0] - boxes[:, 1]), 0.0)
        return float((np.linalg.norm(apart, axis=1) - away).min())


#: Part of the family: corners ``(k, axes)`` of its hull, and how far off it knots lie, m.
_Solid = tuple[Array, float]


#: Distances ``(n,)`` m at axes ``(n, axes)``, up to so many m; and the most that any point of the
#: piece moves from each of ``(n, axes)`` by any mixture of ``(n, k, axes)``.
Asked = tuple[Callable[[Array, float], Array], Callable[[Array, Array], Array]]


def least_in_family(
    corner: Corner, levers: Array, ask: Asked, cap: float, margin: float
) -> tuple[float, Seen]:
    """Return a lower bound of one pair's distance over a corner's family, and the nearest seen.

    ``levers (axes,)`` of the piece against what it is measured to. Farther than ``cap`` m nothing
    is told apart; the bound comes as close as decides ``margin`` m, if it can.
    """
    best, lower = Seen(math.inf, corner.before[-1]), -math.inf
    for parts in _PARTS:
        solids = _pieces_of(corner, parts, levers)
        bound, best = _search(solids, levers, ask, best, (cap, margin))
        lower = max(lower, bound)  # each holds; the highest says most
        is_decided = lower >= margin or best.distance < margin
        if best.distance == 0:
            break
        if is_decided and lower >= _asked_for(best.distance, cap, margin) - _WIDER:
            break
    return lower, best


def _asked_for(distance: float, cap: float, margin: float) -> float:
    """Return how high the bound has to be when so far was seen, m."""
    nearest = min(distance, cap)
    wanted = nearest - TOLERANCE - SHARE * nearest * (distance < cap)
    return wanted if distance < margin else max(wanted, min(margin, nearest - LEAST))


def _search(
    solids: list[_Solid], levers: Array, ask: Asked, best: Seen, limits: tuple[float, float]
) -> tuple[float, Seen]:
    """Lower bound over all of ``solids``, and the nearest seen: branch and bound."""
    (gaps, reach), (cap, margin) = ask, limits
    counter = itertools.count()
    heap: list[tuple[float, int, Array, float]] = []

    def push(some: list[_Solid]) -> None:
        nonlocal best
        centres, deltas, slack = _laid_out(some)
        away = reach(centres, deltas) + slack + PATH_ERROR
        # What is farther than this has a bound beyond what decides.
        most = min(best.distance, cap) + float(away.max())
        distance = gaps(centres, most)
        bounds = distance - away
        if not np.isfinite(bounds).all():
            raise CannotCheck(f"a bound in the rounded corner came out as not a number: {bounds}")
        nearest = int(np.argmin(distance))
        if distance[nearest] < min(best.distance, most):
            best = Seen(float(distance[nearest]), centres[nearest])
        for bound, (solid, off) in zip(bounds.tolist(), some, strict=True):
            heapq.heappush(heap, (bound, next(counter), solid, off))

    push(solids)
    looks = len(heap)
    while best.distance > 0 and looks < _MOST_LOOKS:
        halves: list[_Solid] = []
        while heap and len(halves) < 2 * _AT_ONCE:
            bound, _, solid, slack = heap[0]
            # Halving does not make the slack less.
            if bound + slack >= _asked_for(best.distance, cap + slack, margin):
                break
            heapq.heappop(heap)
            halves += [(half, slack) for half in _halved(solid, levers)]
        if not halves:
            break
        push(halves)
        looks += len(halves)
    return min(heap[0][0], best.distance - PATH_ERROR), best


def _laid_out(solids: list[_Solid]) -> tuple[Array, Array, Array]:
    """Centres ``(n, axes)``, from there to the corners ``(n, k, axes)``, and slacks ``(n,)``."""
    most = max(len(solid) for solid, _ in solids)
    corners = np.stack([np.concatenate([solid, np.repeat(solid[-1:], most - len(solid), axis=0)])
                        for solid, _ in solids])  # fmt: skip
    centres = corners.mean(axis=1)
    return centres, corners - centres[:, None], np.array([slack for _, slack in solids])


def _pieces_of(corner: Corner, parts: int, levers: Array) -> list[_Solid]:
    """Return hulls that hold the family, each zone cut into ``parts`` at most.

    Axes that do not move the piece are left where they are in the sharp corner. What one axis
    alone moves goes from its least to its greatest value, and what two axes move is in a
    plane, where the four faces of a tetrahedron hold all of it.
    """
    counts, at = levers > 0, corner.before[-1]
    if counts.sum() <= 1:
        both = np.concatenate([corner.before, corner.behind])
        ends = np.stack([both.min(axis=0), both.max(axis=0)])
        return [(np.unique(np.where(counts, ends, at), axis=0), 0.0)]
    zones = [_chords(knots, parts, levers) for knots in (corner.before, corner.behind)]
    solids = []
    for (a, b, slack_in), (c, d, slack_out) in itertools.product(*zones):
        ends = np.unique(np.where(counts, np.array([a, b, c, d]), at), axis=0)
        is_flat = counts.sum() == 2 and len(ends) == 4
        faces = itertools.combinations(ends, 3) if is_flat else [ends]
        solids += [(np.array(face), max(slack_in, slack_out)) for face in faces]
    return solids


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
    """Cut a hull ``(k, axes)`` of k corners through the middle of its longest edge."""
    one, other = np.triu_indices(len(solid), 1)
    longest = int(np.argmax(np.abs(solid[one] - solid[other]) @ levers))
    i, j = int(one[longest]), int(other[longest])
    first, second = solid.copy(), solid.copy()
    first[j] = second[i] = (solid[i] + solid[j]) / 2
    return first, second
