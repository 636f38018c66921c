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
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from pathsim.clearance.engine import Engine, Pair, PairQuery, Span
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.records import Clearance, Content
from pathsim.clearance.relative_chain import ChainId, chain_id, linkage_of, reach
from pathsim.errors import CannotCheck
from pathsim.model import Cell, Piece
from pathsim.model.linkage import Linkage
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.motion.corner import Corner, Hull, halved, hulls_of, laid_out
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
        both = np.concatenate([corner.before, corner.behind])
        self._stroke = cell.axes.stroke(both)
        chains = cell.world_linkage, cell.relative_linkage if cell.table else cell.world_linkage
        frames = (chain.fixed.tobytes() for chain in chains)
        self._content = corner.before.shape, both.tobytes(), *frames
        self._carried: dict[tuple[ChainId, Piece], _Carried] = {}
        self._gaps: dict[Pair, float] = {}

    def look_at(self, pairs: Sequence[Pair]) -> None:
        """Work out the gaps of the boxes of many pairs at once, which tell most of them apart."""
        groups: dict[tuple[ChainId, Piece], list[Pair]] = defaultdict(list)
        for pair in pairs:
            if pair not in self._gaps:
                groups[chain_id(*pair), pair[0]].append(pair)
        for key, some in groups.items():
            least = self._carrying(*key).least_gaps(np.array([thing.box for _, thing in some]))
            self._gaps.update(zip(some, least.tolist(), strict=True))

    def is_beyond(self, piece: Piece, standing: Obstacle, distance: float) -> bool:
        """Tell whether a pair surely stays so far apart, m; False where that takes longer."""
        self.look_at([(piece, standing)])
        if self._gaps[piece, standing] >= distance:
            return True
        lower, _ = self._least(piece, standing, distance + TOLERANCE, 0.0, 1)
        return lower >= distance

    def clearance(self, piece: Piece, standing: Obstacle, margin: float) -> Clearance:
        """Return the clearance interval of a pair over all ways of rounding the corner.

        It is narrowed until it is known whether the pair keeps ``margin``, m, if that can be told.
        """
        self.look_at([(piece, standing)])
        cap = standing.cap_within(self._engine.cap)
        if self._gaps[piece, standing] >= cap:
            return _far(cap, self.corner.time)
        content = (
            *self._content, self._carrying(chain_id(piece, standing), piece).content,
            standing.source.digest, standing.T_ref_mesh.tobytes(), margin, cap,
        )  # fmt: skip
        found = self._engine.kept(content, lambda: self._measured(piece, standing, margin, cap))
        return replace(found, time=self.corner.time)

    def _least(
        self, piece: Piece, standing: Obstacle, cap: float, margin: float, most_parts: int = 6
    ) -> tuple[float, Seen]:
        carried = self._carrying(chain_id(piece, standing), piece)

        def gaps(q: Array, most: float) -> Array:
            return self._engine.distances(piece, standing, carried.poses(q), most)

        ask = gaps, carried.reach
        return least_in_family(self.corner, carried.levers, ask, (cap, margin), most_parts)

    def _measured(self, piece: Piece, standing: Obstacle, margin: float, cap: float) -> Clearance:
        time = self.corner.time
        lower, best = self._least(piece, standing, cap, margin)
        if best.distance > cap and lower >= cap - TOLERANCE:
            return _far(min(lower, cap), time)
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

    def _carrying(self, chain: ChainId, piece: Piece) -> _Carried:
        if (chain, piece) not in self._carried:
            linkage = linkage_of(self._cell, chain)
            self._carried[chain, piece] = _Carried(self.corner, linkage, piece, self._stroke)
        return self._carried[chain, piece]


def _far(lower: float, time: float) -> Clearance:
    return Clearance(lower, math.inf, time, None, None, is_capped=True)


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
        return self._linkage.poses_of(self._piece.link, q)

    def reach(self, q: Array, deltas: Array) -> Array:
        """Return how far it goes at most, ``(n,)`` m, see ``relative_chain.reach``."""
        return reach(self._linkage, self._piece, self._levers, q, deltas)

    @cached_property
    def _whole(self) -> tuple[Array, Array]:
        """Boxes ``(n, 2, 3)`` and how far it goes from there ``(n,)`` m, the family in one."""
        solids = hulls_of(self._corner, 1, self.levers)
        centres, deltas, slack = laid_out(solids)
        corners = apply(self.poses(centres), self._piece.mesh.corners)
        boxes = np.stack([corners.min(axis=1), corners.max(axis=1)], axis=1)
        return boxes, self.reach(centres, deltas) + slack + PATH_ERROR

    @cached_property
    def content(self) -> Content:
        """All that decides where its points are at given axes."""
        chain = self._linkage
        arrays = (chain.fixed, chain.ends, chain.prismatic, chain.signs)
        drawn = self._piece.link, self._piece.mesh.digest
        return (*drawn, chain.columns, chain.skip, *(array.tobytes() for array in arrays))

    def least_gaps(self, standing: Array) -> Array:
        """Lower bounds ``(m,)``, m, of its distances from what is in boxes ``(m, 2, 3)``."""
        boxes, away = self._whole
        low, high = boxes[:, None, 0] - standing[:, 1], standing[:, 0] - boxes[:, None, 1]
        apart = np.maximum(np.maximum(low, high), 0.0)
        return np.asarray((np.linalg.norm(apart, axis=2) - away[:, None]).min(axis=0))


#: Distances ``(n,)`` m at axes ``(n, axes)``, up to so many m; and the most that any point of the
#: piece moves from each of ``(n, axes)`` by any mixture of ``(n, k, axes)``.
Asked = tuple[Callable[[Array, float], Array], Callable[[Array, Array], Array]]


def least_in_family(
    corner: Corner,
    levers: Array,
    ask: Asked,
    limits: tuple[float, float],
    most_parts: int = _PARTS[-1],
) -> tuple[float, Seen]:
    """Return a lower bound of one pair's distance over a corner's family, and the nearest seen.

    ``levers (axes,)`` of the piece against what it is measured to. ``limits``: farther than the
    first, m, nothing is told apart; the bound comes as close as decides the second, if it can.
    ``most_parts``: finer than this zones are not cut.
    """
    best, lower = Seen(math.inf, corner.before[-1]), -math.inf
    cap, margin = limits
    for parts in (parts for parts in _PARTS if parts <= most_parts):
        solids = hulls_of(corner, parts, levers)
        bound, best = _search(solids, levers, ask, best, limits)
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
    solids: list[Hull], levers: Array, ask: Asked, best: Seen, limits: tuple[float, float]
) -> tuple[float, Seen]:
    """Lower bound over all of ``solids``, and the nearest seen: branch and bound."""
    (gaps, reach), (cap, margin) = ask, limits
    counter = itertools.count()
    heap: list[tuple[float, int, Array, float]] = []

    def push(some: list[Hull]) -> None:
        nonlocal best
        centres, deltas, slack = laid_out(some)
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
        halves: list[Hull] = []
        while heap and len(halves) < 2 * _AT_ONCE:
            bound, _, solid, slack = heap[0]
            # Halving does not make the slack less.
            if bound + slack >= _asked_for(best.distance, cap + slack, margin):
                break
            heapq.heappop(heap)
            halves += [(half, slack) for half in halved(solid, levers)]
        if not halves:
            break
        push(halves)
        looks += len(halves)
    return min(heap[0][0], best.distance - PATH_ERROR), best
