"""The cheapest way over known postures, its moves proved only when it would go by them.

A lazy roadmap (Bohlin and Kavraki, Path planning using lazy PRM, 2000): all moves count as clear
until the cheapest way goes by them; then they are proved, and the search goes on without those
that are not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from pathsim.model import Axes
from pathsim.transforms import Array

#: So many points on the way at most.
MOST_POINTS = 3
#: So many ways are looked at before their moves are proved together.
_TOGETHER = 12
#: So many moves are proved to see whether another way is cheaper than one that was found.
_MOST_CHEAPER = 150
#: What counts against a move that is asked about already, s; against both ends of a blocked one.
_ASKED_ALREADY, _BLOCKED_BEFORE, _MOST_AGAINST = 0.6, 0.1, 2.0
_UNKNOWN, _BLOCKED = np.nan, -np.inf

#: Proves moves between nodes by number ``(n, 2)``: what is left over the margin ``(n,)`` m.
Prove = Callable[[Sequence[tuple[int, int]]], Array]


def joint_seconds(axes: Axes, share: float, a: Array, b: Array) -> Array:
    """Seconds of joint moves from ``a (..., axes)`` to ``b (..., axes)``, jerk left out."""
    way, v = np.abs(b - a), axes.speed * share
    acceleration = np.broadcast_to(np.asarray(axes.acceleration, float), v.shape)
    cruise = way / v + v / acceleration
    each = np.where(way > v * v / acceleration, cruise, 2 * np.sqrt(way / acceleration))
    return np.asarray(each.max(axis=-1))


@dataclass(eq=False)
class WayGraph:
    """Nodes by number: starts, then ends, then what lies between. Prices in seconds.

    ``price (n,)``: of using a node. ``seconds (n, n)``: of the move from row to column. ``spare``:
    what is known to be left over the margin on it, nan where nobody asked.
    """

    starts: int
    ends: int
    price: Array
    seconds: Array
    spare: Array = field(init=False)

    def __post_init__(self) -> None:
        self.spare = np.full(self.seconds.shape, _UNKNOWN)

    def with_more(self, price: Array, seconds: Array) -> WayGraph:
        """Return a graph with further nodes behind these, and all that is known of these."""
        graph = WayGraph(self.starts, self.ends, price, seconds)
        known = len(self.price)
        graph.spare[:known, :known] = self.spare
        return graph

    def block(self, a: int, b: int) -> None:
        """Never go from one node to another."""
        self.spare[a, b] = _BLOCKED

    def best(self, prove: Prove, most: int, need: float, below: float = np.inf) -> list[int] | None:
        """Return the nodes of the cheapest way that is proved, start and end among them.

        ``most``: so many moves are proved at most; then it is the cheapest of what is known.
        ``need`` m: left over the margin on each of them. ``below``: only a way that is cheaper
        than this is of interest. None where there is none.
        """
        # First where few moves have been blocked, to find any; then whether another is cheaper.
        most -= self._look(prove, most, need, below, _BLOCKED_BEFORE)
        way = self._known(need, below)
        if way is not None:
            self._look(prove, min(most, _MOST_CHEAPER), need, self.price_of(way), 0.0)
        return self._known(need, below)

    def _known(self, need: float, below: float) -> list[int] | None:
        """Return the cheapest way of proved moves; None where none is cheaper than ``below``."""
        price, way = self._cheapest(need, np.where(np.isnan(self.spare), np.inf, 0.0))
        return way if price < below else None

    def _look(self, prove: Prove, most: int, need: float, below: float, against: float) -> int:
        """Prove moves of the cheapest ways until one is proved; return how many were asked about.

        ``against``: what counts against both ends of each blocked move, s.
        """
        blocked, left = np.zeros(len(self.price)), most
        while left > 0:
            asked = self._unknown(need, below, blocked)[:left]
            if not asked:
                break
            left -= len(asked)
            for (a, b), spare in zip(asked, prove(asked).tolist(), strict=True):
                self.spare[a, b] = spare
                if spare < need:
                    blocked[[a, b]] += against
        return most - left

    def _unknown(self, need: float, below: float, blocked: Array) -> list[tuple[int, int]]:
        """Return unproved moves of the cheapest ways; none where the cheapest is proved.

        ``blocked (n,)``: what counts against nodes whose moves were blocked so far, s.
        """
        wanted: dict[tuple[int, int], None] = {}
        against = np.minimum(blocked, _MOST_AGAINST)
        avoided = np.where(np.isnan(self.spare), against[:, None] + against[None], 0.0)
        for _ in range(_TOGETHER):
            _, way = self._cheapest(need, avoided)
            if way is None or self.price_of(way) >= below:
                break
            unknown = [m for m in pairwise(way) if np.isnan(self.spare[m])]
            if not unknown:
                break
            wanted |= dict.fromkeys(unknown)
            for move in unknown:
                avoided[move] += _ASKED_ALREADY
        return list(wanted)

    def price_of(self, way: Sequence[int]) -> float:
        """Return what a way costs, s."""
        moves = pairwise(way)
        return float(self.price[list(way)].sum() + sum(self.seconds[move] for move in moves))

    def _cheapest(self, need: float, avoided: Array) -> tuple[float, list[int] | None]:
        """Return the cheapest way among moves that are not known to be blocked, and its price."""
        known = np.where(np.isnan(self.spare), np.inf, self.spare)
        cost = np.where(known >= need, self.seconds, np.inf) + avoided + self.price[None, :]
        between = slice(self.starts + self.ends, len(self.price))
        ends = slice(self.starts, self.starts + self.ends)
        reached = np.full(len(self.price), np.inf)
        reached[: self.starts] = self.price[: self.starts]
        came: list[Array] = []
        best, found = np.inf, None
        for points in range(MOST_POINTS + 1):
            total = reached[:, None] + cost
            at_end = total[:, ends]
            if at_end.size and at_end.min() < best:
                row, column = np.unravel_index(int(np.argmin(at_end)), at_end.shape)
                best = float(at_end.min())
                found = self._traced(came, int(row), int(column) + self.starts)
            if points == MOST_POINTS or between.start == len(self.price):
                break
            source = np.argmin(total, axis=0)
            least = total[source, np.arange(len(source))]
            reached = np.full(len(self.price), np.inf)
            reached[between] = least[between]
            came.append(source)
        return best, found

    @staticmethod
    def _traced(came: list[Array], last: int, end: int) -> list[int]:
        way = [end, last]
        for source in reversed(came):
            way.append(int(source[way[-1]]))
        return way[::-1]
