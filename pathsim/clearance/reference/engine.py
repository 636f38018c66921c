"""The reference engine: adaptive bisection in time over exact distances.

The proof in two lines. Let a piece be ``d0`` and ``d1`` from a body at the two ends of an
interval, and let no point of it travel more than L in between. At any moment it has
travelled some x since the start and at most L - x to the end, so its distance is at least
``max(d0 - x, d1 - (L - x)) >= (d0 + d1 - L) / 2``. Intervals are split until that bound is
within the tolerance of the smallest distance seen.

It is meant to be read, and to be the oracle for anything faster.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from pathsim.clearance import engine as limits
from pathsim.clearance.contact_rules import largest_margin
from pathsim.clearance.engine import Answered, Bounds, Pair, PairQuery, Span, joined_spans
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.records import Clearance, Content, Inner, inner_of
from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.clearance.reference.sampler import ReferenceSampler
from pathsim.clearance.relative_chain import (
    ChainId,
    ChainOnMove,
    chain_id,
    frame_of,
    linkage_of,
    moves_about,
    segments_between,
    sphere_gap,
)
from pathsim.errors import CannotCheck
from pathsim.geometry.containment import Solid
from pathsim.model import Cell, Mesh, Piece
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array, apply

TOLERANCE = 5e-4  # m, width of the interval
CAP = 0.05  # m, "farther than this" is enough to know
#: Close to contact the interval narrows to a quarter of the distance, down to this, m.
_FINEST = 1e-5


class Look(NamedTuple):
    """One exact distance at one moment."""

    time: float
    distance: float
    on_moving: Array
    on_standing: Array


class ReferenceEngine:
    """Measures a cell with python-fcl; see the module's text for the proof."""

    name = "reference"

    def __init__(
        self, cell: Cell, tolerance: float = TOLERANCE, cap: float | None = None, note: str = ""
    ) -> None:
        """``cap`` m; when not given, 50 mm or a little more than the largest margin."""
        self.cell, self.note = cell, note
        self.tolerance = tolerance
        self.cap = max(CAP, largest_margin(cell) + 2 * tolerance) if cap is None else cap
        self.queries = 0
        # Keyed by the mesh itself, not by its id: an id may be given again to another mesh.
        self._shapes: dict[Mesh, Shape] = {}
        self._solids: dict[Mesh, Solid] = {}

    def finer(self, tolerance: float, cap: float) -> ReferenceEngine:
        """Return one for the same cell with narrower intervals and a smaller cap, m."""
        finer = ReferenceEngine(self.cell, tolerance, cap, self.note)
        finer._shapes, finer._solids = self._shapes, self._solids
        return finer

    def on(self, track: MoveTrack) -> ReferenceMove:
        """Return a measure for this move."""
        return ReferenceMove(self, track)

    def looks(self, track: MoveTrack, pairs: Sequence[Pair]) -> ReferenceSampler:
        """Return looks at these pairs on a move."""
        return ReferenceSampler(self, track, pairs)

    def min_distance(
        self, queries: Sequence[PairQuery], answered: Answered | None = None
    ) -> list[Clearance]:
        """Return the clearance interval of each pair over its window, one after the other."""
        measures: dict[MoveTrack, ReferenceMove] = {}
        found = []
        for count, (track, piece, standing, window) in enumerate(queries):
            if track not in measures:
                measures = {track: self.on(track)}
            measure = measures[track]
            (inner,) = measure.inner_at(piece, standing, np.array([window.start]))
            if inner is not None:
                found.append(Clearance(0.0, 0.0, window.start, None, None, inner))
            else:
                found.append(measure.closest(piece, standing, window))
            if answered is not None:
                answered((count + 1) / len(queries))
        return found

    def bounds(self, queries: Sequence[PairQuery]) -> Bounds:
        """Return the ends of the intervals of ``min_distance``."""
        return Bounds.of_records(self.min_distance(queries))

    def kept(self, content: Content, make: Callable[[], Clearance]) -> Clearance:  # noqa: ARG002
        """Return what is made now: nothing is kept."""
        return make()

    def distances(
        self, piece: Piece, standing: Obstacle, poses: Array, cap: float,
        enough: float = 0.0,  # noqa: ARG002 - all are exact
    ) -> Array:  # fmt: skip
        """Distance ``(n,)`` m of a piece at ``poses (n, 4, 4)``, up to ``cap``."""
        self.queries += len(poses)
        return np.minimum(self.shape(piece).gaps(self.shape(standing), poses), cap)

    def shape(self, thing: Piece | Obstacle) -> Shape:
        """Return the mesh of a piece or body, prepared once."""
        if thing.mesh not in self._shapes:
            self._shapes[thing.mesh] = Shape(thing.mesh)
        return self._shapes[thing.mesh]

    def solid(self, thing: Piece | Obstacle) -> Solid:
        """Return the components of a piece or body, prepared once."""
        if thing.mesh not in self._solids:
            self._solids[thing.mesh] = Solid(thing.mesh)
        return self._solids[thing.mesh]


class ReferenceMove:
    """Pairs on one move."""

    def __init__(self, engine: ReferenceEngine, track: MoveTrack) -> None:
        self._engine = engine
        self._track = track
        self._chains: dict[ChainId, ChainOnMove] = {}

    def closest(self, piece: Piece, standing: Obstacle, window: Span) -> Clearance:
        """Return the clearance interval of a pair over ``window`` (class text: the proof)."""
        gap, chain = self.gap(piece, standing), self.chain(piece, standing)
        cap = standing.cap_within(self._engine.cap)
        least = self._least_gap(gap, window.start, window.end)
        if least - PATH_ERROR >= cap:
            return Clearance(cap, np.inf, window.start, None, None, is_capped=True)
        first = self.look(piece, standing, window.start)
        last = self.look(piece, standing, window.end)
        best = min(first, last, key=lambda look: look.distance)
        counter = itertools.count()
        heap = [(self._bound(chain, piece, gap, first, last, least), next(counter), first, last)]
        while best.distance > 0:
            lower, _, a, b = heap[0]
            if lower >= min(best.distance, cap + PATH_ERROR) - self._allowed(best.distance):
                break
            heapq.heappop(heap)
            middle = self.look(piece, standing, self._split(chain, piece, a.time, b.time))
            if middle.distance < best.distance:
                best = middle
            for start, end in ((a, middle), (middle, b)):
                bound = self._bound(chain, piece, gap, start, end, lower)
                heapq.heappush(heap, (bound, next(counter), start, end))
        lower = min(heap[0][0], best.distance) - PATH_ERROR
        return Clearance(
            lower=min(max(lower, 0.0), cap),
            upper=best.distance,
            time=best.time,
            on_moving=best.on_moving,
            on_standing=best.on_standing,
            is_capped=lower >= cap - self._engine.tolerance and best.distance > cap,
        )

    def intervals_below(
        self, piece: Piece, standing: Obstacle, window: Span, threshold: float
    ) -> tuple[Span, ...]:
        """Return when the pair may be closer than ``threshold``, m; 0 asks for contact."""
        gap, chain = self.gap(piece, standing), self.chain(piece, standing)
        limit = threshold + PATH_ERROR
        found: list[Span] = []
        shortest = max(limits.SPAN_TRAVEL, limits.SPAN_SHARE * chain.way(piece, *window))

        def visit(a: Look, b: Look) -> None:
            bound = self._bound(chain, piece, gap, a, b, -np.inf)
            if bound >= limit:
                return
            way = chain.way(piece, a.time, b.time)
            if (a.distance + b.distance + way) / 2 < limit or way < shortest:
                found.append(Span(a.time, b.time))
                return
            middle = self.look(piece, standing, self._split(chain, piece, a.time, b.time))
            farthest = max(look.distance for look in (a, middle, b))
            if way < limits.JOINED * shortest and farthest < limit:
                found.append(Span(a.time, b.time))
                return
            visit(a, middle)
            visit(middle, b)

        first = self.look(piece, standing, window.start)
        visit(first, self.look(piece, standing, window.end))
        return joined_spans(found)

    def inner_at(self, piece: Piece, standing: Obstacle, times: Array) -> list[Inner | None]:
        """Tell which of the two lies wholly within the other at each of ``times (n,)``."""
        body, moving = self._engine.solid(standing), self._engine.solid(piece)
        chain = self.chain(piece, standing)
        return [inner_of(moving, body, chain.pose(piece, float(time))) for time in times]

    def first_contact(
        self, piece: Piece, standing: Obstacle, times: Array
    ) -> tuple[float, Array, Array] | None:
        """Return the first of ``times (n,)`` at which their surfaces meet, and where."""
        for time in times.tolist():
            seen = self.look(piece, standing, time)
            if seen.distance <= 0.0:
                return time, seen.on_moving, seen.on_standing
        return None

    def _allowed(self, distance: float) -> float:
        return min(self._engine.tolerance, max(distance / 4, _FINEST))

    def chain(self, piece: Piece, standing: Obstacle) -> ChainOnMove:
        """Return the chain that carries ``piece`` as seen from ``standing``."""
        cell, name = self._engine.cell, chain_id(piece, standing)
        if name not in self._chains:
            stroke = cell.axes.stroke(self._track.q)
            self._chains[name] = ChainOnMove(linkage_of(cell, name), self._track, stroke)
        return self._chains[name]

    def look(self, piece: Piece, standing: Obstacle, time: float) -> Look:
        """Exact distance at one moment; the points in the world."""
        moving = self._engine.shape(piece)
        moving.place(self.chain(piece, standing).pose(piece, time))
        self._engine.queries += 1
        distance, on_moving, on_standing = moving.distance(self._engine.shape(standing))
        if moves_about(standing):
            T = frame_of(self._engine.cell, standing, self._track.q_at(time)[0])
            on_moving, on_standing = apply(T, np.stack([on_moving, on_standing]))
        return Look(time, distance, on_moving, on_standing)

    def travel_sum(self, piece: Piece, standing: Obstacle) -> Array:
        """Bound ``(n,)`` of the way of every point of the pair since the first knot, m."""
        chain = self.chain(piece, standing)
        return np.concatenate([[0.0], np.cumsum(chain.segment_travel(piece))])

    def gap(self, piece: Piece, standing: Obstacle) -> Array:
        """Cheap lower bound of each segment's distance, from sphere and box."""
        low, high = standing.mesh.bounds
        chain = self.chain(piece, standing)
        return sphere_gap(chain.knot_poses(piece), piece, chain.segment_travel(piece), low, high)

    def segments(self, start: float, end: float) -> tuple[int, int]:
        """First segment that meets [start, end] and the one behind the last."""
        return segments_between(self._track.t, start, end)

    def _least_gap(self, gap: Array, start: float, end: float) -> float:
        first, last = self.segments(start, end)
        return float(gap[first:last].min()) if len(gap) else -np.inf

    def _bound(
        self, chain: ChainOnMove, piece: Piece, gap: Array, a: Look, b: Look, known: float
    ) -> float:
        """Lower bound of the distance between two looks."""
        way = chain.way(piece, a.time, b.time)
        exact = (a.distance + b.distance - way) / 2
        bound = max(exact, self._least_gap(gap, a.time, b.time), known)
        if not (np.isfinite(exact) and bound < np.inf):
            raise CannotCheck(f"the motion bound of the {piece.name} is not a number")
        return bound

    def _split(self, chain: ChainOnMove, piece: Piece, start: float, end: float) -> float:
        """Return a moment that halves the way: a knot if there is one between, else the middle."""
        t = self._track.t
        first = int(np.searchsorted(t, start, side="right"))
        last = int(np.searchsorted(t, end, side="left"))
        if last <= first:
            return (start + end) / 2
        ways = np.cumsum(chain.segment_travel(piece)[first - 1 : last])[:-1]
        half = chain.way(piece, start, end) / 2
        return float(t[first + min(int(np.searchsorted(ways, half)), last - 1 - first)])
