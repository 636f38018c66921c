"""Planning an air section: the cheapest way from where the arc goes off to where it comes on.

Starts and ends are the clear tips of legs (``roots.py``). First the cheapest way is sought over
points that a programmer would teach (``way_points.py``, ``way_graph.py``); where there is none, two
trees grow in joint space (``way_trees.py``), and what they find is cut short and rounded to such
points as far as that stays clear. The whole program has the last word on each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import pairwise

import numpy as np

from pathsim.advice.edges import Edge, EdgeProver
from pathsim.advice.new_points import MOST_TILT
from pathsim.advice.proposal import POINT
from pathsim.advice.roots import SPARE, Root, roots
from pathsim.advice.section import AirSection
from pathsim.advice.way_graph import WayGraph, joint_seconds
from pathsim.advice.way_points import (
    KnownPoint,
    WayPoint,
    snapped,
    tilt_from,
    way_points,
)
from pathsim.advice.way_trees import TreeMove, WayTrees
from pathsim.findings.places import is_roomy
from pathsim.model import Cell
from pathsim.transforms import Array, BoolArray

#: What a point counts for besides that is no place from a known one, or tilts the torch far, s.
_ODD, _TILTED = 0.3, 2.0
#: So many moves are proved over points that a programmer would teach, and with what trees found.
_MOST_TAUGHT, _MOST_FOUND = 500, 300
#: What a joint may turn in all over a program that turned it less, rad (m: no slide is so long).
_MOST_TURN = np.radians(290.0)
#: So many moves may the trees look at.
_MOST_GROWN = 4000


@dataclass(frozen=True, eq=False)
class SectionPlan:
    """A way through a section: its two roots and the points between.

    ``price`` s: seconds, and what its points count for. ``spare`` m: least left over a margin on
    its joint moves, as far as that is told apart.
    """

    start: Root
    points: tuple[WayPoint, ...]
    end: Root
    price: float
    spare: float
    nodes: tuple[int, ...]


def _price(root: Root) -> float:
    """Return what a root counts for, s: its leg, its point, and what is odd about it."""
    if root.direction is None:
        return root.seconds
    return root.seconds + POINT + root.direction.off_habit


@dataclass(eq=False)
class SectionPlanner:
    """Plans one section; remembers what was proved.

    ``turned``: least and largest values of all axes over the program, ``(axes,)`` each: no point
    may wind a joint up much farther than the program does.
    """

    cell: Cell
    prover: EdgeProver
    section: AirSection
    turned: tuple[Array, Array]
    points: list[WayPoint] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        section = self.section
        self.starts = roots(self.cell, self.prover, section.start, leaves=True)
        self.ends = roots(self.cell, self.prover, section.end, leaves=False)
        self.known = [KnownPoint.of(self.cell, end.name, end.q) for end in section.ends]
        self._graph: WayGraph | None = None
        self._postures: list[Array] = []

    def plan(self, need: float = SPARE, below: float = np.inf) -> SectionPlan | None:
        """Return the cheapest way over points that a programmer would teach; None where none is.

        ``need`` m: left over the margin on joint moves; ``below``: only what is cheaper, s.
        """
        if not self.starts or not self.ends:
            return None
        if self._graph is None:
            self._take([*way_points(self.cell, *self.known)])
        return self._best(_MOST_TAUGHT, need, below)

    def grown(self, need: float = SPARE) -> SectionPlan | None:
        """Return a way that trees find, cut short and rounded; None where they find none."""
        if not self.starts or not self.ends:
            return None
        starts, ends = [r.q for r in self.starts], [r.q for r in self.ends]
        look = partial(self._look_free, need=need)
        trees = WayTrees(self.cell, starts, ends, look, self._prove_free, need)
        way = trees.way(_MOST_GROWN)
        if way is None:
            return None
        way = self._shortened(way, need)
        between = [WayPoint(q, None, tilt_from(self.cell, q, self.known)) for q in way[1:-1]]
        self._take([*between, *self._near(way)])
        self._know(way, need)
        return self._best(_MOST_FOUND, need, np.inf)

    def block(self, plan: SectionPlan, moves: Sequence[int]) -> None:
        """Never go by some moves of a plan again, by their place in it."""
        for k in moves:
            assert self._graph is not None  # noqa: S101 - it made the plan
            self._graph.block(plan.nodes[k], plan.nodes[k + 1])

    def block_root(self, plan: SectionPlan, at: int) -> None:
        """Never start (0) or end (-1) again as a plan does."""
        assert self._graph is not None  # noqa: S101 - it made the plan
        self._graph.spare[plan.nodes[at], :] = self._graph.spare[:, plan.nodes[at]] = -np.inf

    def again(self, need: float = SPARE, below: float = np.inf) -> SectionPlan | None:
        """Return the cheapest way that is left after ``block``."""
        return self._best(_MOST_FOUND, need, below)

    def _take(self, points: list[WayPoint]) -> None:
        """Add points to the graph, as far as they look well off everything."""
        points = [p for p in points if self._is_wound_little(p.q)]
        off = self.prover.look_off([p.q for p in points], SPARE)
        self.points += [p for p, is_off in zip(points, off.tolist(), strict=True) if is_off]
        nodes = [*self.starts, *self.ends]
        self._postures = [*(root.q for root in nodes), *(p.q for p in self.points)]
        qs = np.stack(self._postures)
        seconds = joint_seconds(self.cell.axes, self.section.speed, qs[:, None], qs[None])
        price = [_price(root) for root in nodes]
        price += [POINT + _ODD * (p.from_point is None) + _TILTED * (p.tilt > MOST_TILT)
                  for p in self.points]  # fmt: skip
        if self._graph is None:
            self._graph = WayGraph(len(self.starts), len(self.ends), np.array(price), seconds,
                                   self._look_nodes)  # fmt: skip
        else:
            self._graph = self._graph.with_more(np.array(price), seconds)
        # Nothing to teach there, so that the cheapest ways all go straight from a weld, or to it;
        # and hardly one of them is clear.
        self._graph.look_at(list(self._by_welds(len(qs))))

    def _by_welds(self, count: int) -> Iterator[tuple[int, int]]:
        """Yield all joint moves that leave a weld, or come to one, by number."""
        first, last = len(self.starts), len(self.starts) + len(self.ends)
        for a, root in enumerate(self.starts):
            if root.seam is not None:
                yield from ((a, b) for b in range(first, count))
        for b, root in enumerate(self.ends, start=first):
            if root.seam is not None:
                yield from ((a, b) for a in (*range(first), *range(last, count)))

    def _is_wound_little(self, q: Array) -> bool:
        least, most = self.turned
        span = np.maximum(most, q) - np.minimum(least, q)
        return bool((span <= np.maximum(most - least, _MOST_TURN)).all())

    def _know(self, way: Sequence[Array], need: float) -> None:
        """Put in the graph that the moves of a way are proved."""
        places = {id(q): k for k, q in enumerate(self._postures)}
        nodes = [places[id(q)] for q in way if id(q) in places]
        assert self._graph is not None  # noqa: S101 - the way's points were put in it
        if len(nodes) == len(way):
            for move in pairwise(nodes):
                self._graph.spare[move] = need

    def _best(self, most: int, need: float, below: float) -> SectionPlan | None:
        graph = self._graph
        if graph is None:
            return None
        way = graph.best(self._prove_nodes, most, need, below)
        if way is None:
            return None
        between = [self.points[k - graph.starts - graph.ends] for k in way[1:-1]]
        spare = min(float(graph.spare[move]) for move in pairwise(way))
        return SectionPlan(
            self.starts[way[0]], tuple(between), self.ends[way[-1] - graph.starts],
            graph.price_of(way), spare, tuple(way),
        )  # fmt: skip

    def _look_nodes(self, moves: Sequence[tuple[int, int]]) -> BoolArray:
        return self.prover.look_at([self._edge(a, b) for a, b in moves])

    def _prove_nodes(self, moves: Sequence[tuple[int, int]]) -> Array:
        return self.prover.spare([self._edge(a, b) for a, b in moves], looked_at=True)

    def _edge(self, a: int, b: int) -> Edge:
        first = self.starts[a] if a < len(self.starts) else None
        place = b - len(self.starts)
        last = self.ends[place] if 0 <= place < len(self.ends) else None
        return Edge(
            self._q(a), self._q(b), leaves=None if first is None else first.seam,
            comes=None if last is None else last.seam,
        )  # fmt: skip

    def _q(self, node: int) -> Array:
        return self._postures[node]

    def _prove_free(self, moves: Sequence[TreeMove]) -> Array:
        return self.prover.spare(self._free(moves))

    def _free(self, moves: Sequence[TreeMove]) -> list[Edge]:
        """Return moves of the trees as edges."""
        return [
            Edge(
                a, b, leaves=None if start < 0 else self.starts[start].seam,
                comes=None if end < 0 else self.ends[end].seam,
            )
            for a, b, start, end in moves
        ]  # fmt: skip

    def _look_free(self, moves: Sequence[TreeMove], need: float) -> BoolArray:
        """Tell what looks clear; a move by a weld has other margins there: it is proved at once."""
        edges = self._free(moves)
        in_air = np.array([edge.is_in_air for edge in edges], dtype=bool)
        is_off = np.zeros(len(edges), dtype=bool)
        some = [edge for edge in edges if edge.is_in_air]
        is_off[in_air] = self.prover.look_along([(edge.a, edge.b) for edge in some], need)
        is_off[~in_air] = self.prover.spare([e for e in edges if not e.is_in_air]) >= need
        return is_off

    def _shortened(self, way: list[Array], need: float) -> list[Array]:
        """Leave out points without which the way stays clear, and pull the others in."""
        way = self._left_out(way, need)
        for k in range(1, len(way) - 1):
            before, behind = way[k - 1], way[k + 1]
            middle = before + 0.5 * (behind - before)
            tries = [way[k] + share * (middle - way[k]) for share in (0.75, 0.5, 0.25)]
            tries = [q for q in tries if is_roomy(self.cell, q)]
            spares = self.prover.spare(
                [e for q in tries for e in (Edge(before, q), Edge(q, behind))]
            )
            for q, pair in zip(tries, spares.reshape(-1, 2), strict=True):
                if (pair >= need).all():
                    way[k] = q
                    break
        return self._left_out(way, need)

    def _left_out(self, way: list[Array], need: float) -> list[Array]:
        k = 0
        while k + 2 < len(way):
            longest = range(len(way) - 1, k + 1, -1)
            spares = self.prover.spare([Edge(way[k], way[n]) for n in longest])
            far = next((n for n, s in zip(longest, spares.tolist(), strict=True) if s >= need), 0)
            if far:
                way = [*way[: k + 1], *way[far:]]
            k += 1
        return way

    def _near(self, way: list[Array]) -> Iterator[WayPoint]:
        for q in way[1:-1]:
            yield from snapped(self.cell, q, self.known)
