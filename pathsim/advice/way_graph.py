"""The cheapest way over known postures, its moves proved only when it would go by them.

A lazy roadmap (Bohlin and Kavraki, Path planning using lazy PRM, 2000): all moves count as clear
until the cheapest way goes by them; then they are proved, and the search goes on without those
that are not.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from pathsim.model import Axes
from pathsim.transforms import Array, BoolArray

#: So many points on the way at most.
MOST_POINTS = 3
#: So many ways are looked at before their moves are proved together.
_TOGETHER = 12
#: What a look at a move counts for, of a proof.
_LOOK = 0.25
#: So many moves are proved to see whether another way is cheaper than one that was found.
_MOST_CHEAPER = 150
#: So many ways without points are asked about for that.
_MOST_DIRECT = 48
#: What counts against a move that is asked about already, s; against both ends of a blocked one.
_ASKED_ALREADY, _BLOCKED_BEFORE, _MOST_AGAINST = 0.6, 0.1, 2.0
_UNKNOWN, _BLOCKED = np.nan, -np.inf

#: Proves moves between nodes by number ``(n, 2)``: what is left over the margin ``(n,)`` m.
Prove = Callable[[Sequence[tuple[int, int]]], Array]
#: Tells quickly of moves between nodes which are surely blocked: False ``(n,)``. True says nothing.
Look = Callable[[Sequence[tuple[int, int]]], BoolArray]


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
    what is known to be left over the margin on it, nan where nobody asked. ``look``: discards moves
    before any is proved; it may say nothing of all.
    """

    starts: int
    ends: int
    price: Array
    seconds: Array
    look: Look | None = None
    spare: Array = field(init=False)
    _looked: BoolArray = field(init=False)

    def __post_init__(self) -> None:
        self.spare = np.full(self.seconds.shape, _UNKNOWN)
        self._looked = np.full(self.seconds.shape, self.look is None)

    def with_more(self, price: Array, seconds: Array) -> WayGraph:
        """Return a graph with further nodes behind these, and all that is known of these."""
        graph = WayGraph(self.starts, self.ends, price, seconds, self.look)
        known = len(self.price)
        graph.spare[:known, :known] = self.spare
        graph._looked[:known, :known] = self._looked
        return graph

    def look_at(self, moves: Sequence[tuple[int, int]]) -> None:
        """Look at moves at once, before any way is sought that goes by them."""
        self._seen_blocked([move for move in moves if not self._looked[move]])

    def block(self, a: int, b: int) -> None:
        """Never go from one node to another."""
        self.spare[a, b] = _BLOCKED

    def best(self, prove: Prove, most: int, need: float, below: float = np.inf) -> list[int] | None:
        """Return the nodes of the cheapest way that is proved, start and end among them.

        ``most``: so many moves are proved at most; then it is the cheapest of what is known.
        ``need`` m: left over the margin on each of them. ``below``: only a way that is cheaper
        than this is of interest. None where there is none.
        """
        # First where few moves have been blocked, to find any; then whether another is cheaper:
        # one without points before all others.
        left = most - self._look(prove, most, need, below, _BLOCKED_BEFORE)
        way = self._known(need, below)
        if way is None and below < np.inf:
            # What counts against blocked moves leads past the limit while there are cheaper ways.
            left -= self._look(prove, min(left, _MOST_CHEAPER), need, below, 0.0)
            way = self._known(need, below)
        if way is not None:
            left -= self._prove_direct(prove, self.price_of(way))
            way = self._known(need, below) or way
            self._look(prove, min(left, _MOST_CHEAPER), need, self.price_of(way), 0.0)
        return self._known(need, below)

    def _prove_direct(self, prove: Prove, below: float) -> float:
        """Prove the cheapest moves straight from a start to an end; return how many were proved."""
        ends = range(self.starts, self.starts + self.ends)
        direct = [(a, b) for a in range(self.starts) for b in ends if np.isnan(self.spare[a, b])]
        direct = [move for move in direct if self.price_of(move) < below]
        direct = sorted(direct, key=self.price_of)[:_MOST_DIRECT]
        short = set(self._seen_blocked([move for move in direct if not self._looked[move]]))
        left = [move for move in direct if move not in short]
        if left:
            for move, spare in zip(left, prove(left).tolist(), strict=True):
                self.spare[move] = spare
        return _LOOK * len(direct) + len(left)

    def _known(self, need: float, below: float) -> list[int] | None:
        """Return the cheapest way of proved moves; None where none is cheaper than ``below``."""
        price, way = self._cheapest(self._costs(need, np.where(np.isnan(self.spare), np.inf, 0.0)))
        return way if price < below else None

    def _look(self, prove: Prove, most: float, need: float, below: float, against: float) -> float:
        """Prove moves of the cheapest ways until one is proved; return how many were proved.

        ``against``: what counts against both ends of each blocked move, s. A way is proved only
        when none of its moves looks blocked; a look counts for a part of a proof.
        """
        blocked, left = np.zeros(len(self.price)), most
        while left > 0:
            asked = self._unknown(need, below, blocked)[: math.ceil(left)]
            if not asked:
                break
            new = [move for move in asked if not self._looked[move]]
            short = self._seen_blocked(new)
            left -= _LOOK * len(new)
            if not short:
                left -= len(asked)
                for move, spare in zip(asked, prove(asked).tolist(), strict=True):
                    self.spare[move] = spare
                    if spare < need:
                        short.append(move)
            for a, b in short:
                blocked[[a, b]] += against
        return most - left

    def _seen_blocked(self, moves: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        """Look at moves, and return those that are surely blocked."""
        if self.look is None or not moves:
            return []
        is_open = self.look(moves).tolist()
        for move in moves:
            self._looked[move] = True
        short = [move for move, is_off in zip(moves, is_open, strict=True) if not is_off]
        for move in short:
            self.spare[move] = _BLOCKED
        return short

    def _unknown(self, need: float, below: float, blocked: Array) -> list[tuple[int, int]]:
        """Return unproved moves of the cheapest ways; none where the cheapest is proved.

        ``blocked (n,)``: what counts against nodes whose moves were blocked so far, s.
        """
        wanted: dict[tuple[int, int], None] = {}
        against = np.minimum(blocked, _MOST_AGAINST)
        avoided = np.where(np.isnan(self.spare), against[:, None] + against[None], 0.0)
        cost = self._costs(need, avoided)
        for _ in range(_TOGETHER):
            _, way = self._cheapest(cost)
            if way is None or self.price_of(way) >= below:
                break
            unknown = [m for m in pairwise(way) if np.isnan(self.spare[m])]
            if not unknown:
                break
            wanted |= dict.fromkeys(unknown)
            for move in unknown:
                cost[move] += _ASKED_ALREADY
        return list(wanted)

    def price_of(self, way: Sequence[int]) -> float:
        """Return what a way costs, s."""
        moves = pairwise(way)
        return float(self.price[list(way)].sum() + sum(self.seconds[move] for move in moves))

    def _costs(self, need: float, avoided: Array) -> Array:
        """Return what each move and the node it comes to count for, inf where it is blocked."""
        is_open = ~(self.spare < need)  # where nobody asked it may be
        return np.where(is_open, self.seconds + avoided + self.price, np.inf)

    def _cheapest(self, cost: Array) -> tuple[float, list[int] | None]:
        """Return the cheapest way among moves that are not known to be blocked, and its price.

        ``cost (n, n)``: of the move from row to column and of using the column's node.
        """
        first, last = self.starts, self.starts + self.ends
        starts, ends, between = slice(0, first), slice(first, last), slice(last, len(self.price))
        reached, rows = self.price[starts], starts
        came: list[Array] = []
        best, found = np.inf, None
        for points in range(MOST_POINTS + 1):
            at_end = reached[:, None] + cost[rows, ends]
            if at_end.size and at_end.min() < best:
                row, column = np.unravel_index(int(np.argmin(at_end)), at_end.shape)
                best = float(at_end[row, column])
                found = [*self._traced(came, int(row), last), int(column) + first]
            if points == MOST_POINTS or last == len(self.price):
                break
            total = reached[:, None] + cost[rows, between]
            source = np.argmin(total, axis=0)
            came.append(source)
            reached, rows = total[source, np.arange(len(source))], between
        return best, found

    @staticmethod
    def _traced(came: list[Array], row: int, between: int) -> list[int]:
        """Return the way to a row of the last step: a start where none came before, else a point.

        ``between``: number of the first node that lies between starts and ends.
        """
        way, at = [], row
        for source in reversed(came):
            way.append(at + between)
            at = int(source[at])
        return [at, *way[::-1]]
