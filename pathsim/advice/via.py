"""A point on the way for an air move that straight up does not cure, found in joint space.

First single points: above the middle of the joint move, at several heights and shares of the
way. If none clears, a tree grows from either end in joint space until the two meet (Kuffner and
LaValle, RRT-Connect, 2000), its edges measured by the clearance engine as the joint moves that
they are; what it finds is cut short as long as the moves stay clear. The random numbers have a
fixed seed: the same cell gives the same advice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from pathsim.advice.change import Change, new_name
from pathsim.advice.places import lifted, up
from pathsim.advice.trial import Bench, Trial
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array
from pathsim.units import millimetres

_SHARES = (0.5, 0.35, 0.65, 0.2, 0.8)
_HEIGHTS = np.arange(0.05, 0.401, 0.05)
#: Longest edge of the tree, rad (m for slides), and how many moves it may try.
_EDGE, _MOST_EDGES = 0.6, 120
_SEED = 1


@dataclass(frozen=True, eq=False)
class Via:
    """Points on the way that clear an air move."""

    words: str
    trial: Trial


def vias(bench: Bench, track: MoveTrack) -> Iterator[Via]:
    """Yield a way round for a joint move: by one point, or by those that a tree found."""
    if track.move.kind is not MoveKind.JOINT or track.fault is not None:
        return
    single = _single(bench, track)
    if single is not None:
        yield single
        return
    tree = _Tree(bench, track)
    found = tree.connect()
    if found is not None:
        yield _named(bench, track, found)


def _change(bench: Bench, track: MoveTrack, qs: list[Array]) -> Change:
    """Return the change that goes by ``qs`` on the way, as joint moves at the same speed."""
    points: dict[str, Array] = {}
    moves = []
    for q in qs:
        name = new_name(bench.cell, "on the way", points)
        points[name] = q
        move = replace(track.move, target=name, wait=0.0, rounding=0.0, line=None)
        moves.append((track.index, move))
    return Change(points, tuple(moves))


def _single(bench: Bench, track: MoveTrack) -> Via | None:
    """Try one point above the way; the clear one with the least added time of each height."""
    for height in _HEIGHTS:
        clear = []
        for share in _SHARES:
            q = (1 - share) * track.q[0] + share * track.q[-1]
            raised = lifted(bench.cell, q, up(), float(height))
            if raised is None:
                continue
            trial = bench.try_out(_change(bench, track, [raised]))
            if trial.is_clear:
                clear.append((trial.seconds, share, trial))
        if clear:
            _, share, trial = min(clear, key=lambda one: one[:2])
            name = next(iter(trial.change.points))
            words = (
                f"Teach a point '{name}' on the way, {millimetres(float(height), 0)} above where "
                f"the tip is at {share:.0%} of the joint move, and go by it with a joint move."
            )
            return Via(words, trial)
    return None


def _named(bench: Bench, track: MoveTrack, qs: list[Array]) -> Via:
    trial = bench.try_out(_change(bench, track, qs))
    names = ", ".join(f"'{name}'" for name in trial.change.points)
    count = "a point" if len(qs) == 1 else f"{len(qs)} points"
    return Via(f"Teach {count} on the way, {names}, and go by joint moves.", trial)


class _Tree:
    """Two trees in joint space, one from each end of a joint move."""

    def __init__(self, bench: Bench, track: MoveTrack) -> None:
        self._bench, self._track, self._edges = bench, track, 0
        self._rng = np.random.default_rng(_SEED)
        low, high = bench.cell.axes.lower, bench.cell.axes.upper
        both = np.stack([track.q[0], track.q[-1]])
        # Not farther from the two ends than a turn: nobody wants to see an arm go round.
        self._low = np.maximum(low, both.min(axis=0) - 1.2)
        self._high = np.minimum(high, both.max(axis=0) + 1.2)
        still = both[0] == both[1]
        held = list(bench.cell.axes.held)
        fixed = np.zeros(len(still), dtype=bool)
        fixed[held] = still[held]
        self._low[fixed] = self._high[fixed] = both[0][fixed]

    def connect(self) -> list[Array] | None:
        """Return points of a clear way between the ends, without the ends; None if none came."""
        trees = [[(self._track.q[0], -1)], [(self._track.q[-1], -1)]]
        while self._edges < _MOST_EDGES:
            target = self._rng.uniform(self._low, self._high)
            reached = self._grow(trees[0], target, reverse=trees[0][0][0] is self._track.q[-1])
            if reached is not None:
                other = self._grow(
                    trees[1], reached, reverse=trees[1][0][0] is self._track.q[-1], whole=True
                )
                if other is not None and np.array_equal(other, reached):
                    return self._way(trees)
            trees.reverse()
        return None

    def _grow(
        self, tree: list[tuple[Array, int]], target: Array, *, reverse: bool, whole: bool = False
    ) -> Array | None:
        """Grow a tree towards ``target``, one edge or as far as it stays clear."""
        nearest = int(np.argmin([np.abs(q - target).max() for q, _ in tree]))
        last = None
        while self._edges < _MOST_EDGES:
            q = tree[nearest][0]
            size = float(np.abs(target - q).max())
            step = target if size <= _EDGE else q + (target - q) * (_EDGE / size)
            if size == 0 or not self._is_clear(step, q, reverse=reverse):
                return last
            tree.append((step, nearest))
            nearest, last = len(tree) - 1, step
            if not whole or np.array_equal(step, target):
                return last
        return last

    def _is_clear(self, a: Array, b: Array, *, reverse: bool) -> bool:
        """Tell whether the joint move between two places keeps its margins."""
        self._edges += 1
        return self._bench.is_edge_clear(self._track, *((a, b) if reverse else (b, a)))

    def _way(self, trees: list[list[tuple[Array, int]]]) -> list[Array] | None:
        """Join the branches of both trees and cut the way short."""
        parts = []
        for tree in trees:
            part, at = [], len(tree) - 1
            while at >= 0:
                part.append(tree[at][0])
                at = tree[at][1]
            parts.append(part)
        first, second = parts if trees[0][0][0] is self._track.q[0] else parts[::-1]
        way = [*first[::-1], *second[1:]]
        k = 0
        while k + 2 < len(way):  # leave out each point without which the way stays clear
            if self._bench.is_edge_clear(self._track, way[k], way[k + 2]):
                del way[k + 1]
            else:
                k += 1
        return way[1:-1]
