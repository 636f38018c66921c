"""A point on the way for an air move that straight up does not cure, found in joint space.

First single points: above the middle of the joint move, at several heights and shares of the
way. If none clears, a tree grows from either end in joint space until the two meet (Kuffner and
LaValle, RRT-Connect, 2000), its edges measured by the clearance engine as the joint moves that
they are; what it finds is cut short, and pulled towards the straight way in joint space, as long
as the moves stay clear. Points near a joint limit or near a wrist in line are not proposed. The
random numbers have a fixed seed: the same cell gives the same advice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from pathsim.advice.change import Change, new_name
from pathsim.advice.trial import Evaluator
from pathsim.findings.places import is_roomy, lifted, up
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array
from pathsim.units import millimetres

_SHARES = (0.5, 0.35, 0.65, 0.2, 0.8)
_HEIGHTS = np.arange(0.05, 0.401, 0.05)
#: Longest edge of the tree, rad (m for slides), and how many moves it may try.
_EDGE, _MOST_EDGES = 0.6, 120
_SEED = 1
#: How far beyond the ends of the move each axis may go, rad (m for slides).
_AROUND = 1.2
#: Shares of the way towards the straight joint move by which a point is pulled in.
_PULLS = (0.5, 0.25, 0.125)


@dataclass(frozen=True, eq=False)
class Via:
    """Points on the way that clear an air move and harm nothing."""

    words: str
    change: Change


def vias(evaluator: Evaluator, track: MoveTrack) -> Iterator[Via]:
    """Yield a way round for a joint move: by one point, or by those that a tree found."""
    if track.move.kind is not MoveKind.JOINT or track.fault is not None:
        return
    single = _single(evaluator, track)
    if single is not None:
        yield single
        return
    tree = _Tree(evaluator, track)
    found = tree.connect()
    if found is None:
        return
    via = _named(evaluator, track, found)
    if evaluator.try_out(via.change).is_clear and not evaluator.harm(via.change):
        yield via


def _change(evaluator: Evaluator, track: MoveTrack, qs: list[Array]) -> Change:
    """Return the change that goes by ``qs`` on the way, as joint moves at the same speed."""
    points: dict[str, Array] = {}
    moves = []
    for q in qs:
        name = new_name(evaluator.cell, "on the way", points)
        points[name] = q
        move = replace(track.move, target=name, wait=0.0, rounding=0.0, line=None)
        moves.append((track.index, move))
    return Change(evaluator.cell, points, tuple(moves))


def _single(evaluator: Evaluator, track: MoveTrack) -> Via | None:
    """Try one point above the way: the lowest height, and there the one that costs least time."""
    for height in _HEIGHTS:
        clear = []
        for share in _SHARES:
            q = (1 - share) * track.q[0] + share * track.q[-1]
            raised = lifted(evaluator.cell, q, up(), float(height))
            if raised is None or not is_roomy(evaluator.cell, raised):
                continue
            trial = evaluator.try_out(_change(evaluator, track, [raised]))
            if trial.is_clear:
                clear.append((trial.seconds, share, trial.change))
        for _, share, change in sorted(clear, key=lambda one: one[:2]):
            if evaluator.harm(change):
                continue
            name = next(iter(change.points))
            words = (
                f"Teach a point '{name}' on the way, {millimetres(float(height), 0)} above where "
                f"the tip is at {share:.0%} of the joint move, and go by it with a joint move."
            )
            return Via(words, change)
    return None


def _named(evaluator: Evaluator, track: MoveTrack, qs: list[Array]) -> Via:
    change = _change(evaluator, track, qs)
    names = ", ".join(f"'{name}'" for name in change.points)
    count = "a point" if len(qs) == 1 else f"{len(qs)} points"
    return Via(f"Teach {count} on the way, {names}, and go by joint moves.", change)


class _Tree:
    """Two trees in joint space, one from each end of a joint move.

    ``_trees[0]`` grows from the start, ``_trees[1]`` from the end; a node is a place ``(axes,)``
    and the number of the one it grew from, -1 at the root.
    """

    def __init__(self, evaluator: Evaluator, track: MoveTrack) -> None:
        self._bench, self._track, self._edges = evaluator, track, 0
        self._rng = np.random.default_rng(_SEED)
        low, high = evaluator.cell.axes.lower, evaluator.cell.axes.upper
        both = np.stack([track.q[0], track.q[-1]])
        # Not farther from the two ends than a turn: nobody wants to see an arm go round.
        self._low = np.maximum(low, both.min(axis=0) - _AROUND)
        self._high = np.minimum(high, both.max(axis=0) + _AROUND)
        still = both[0] == both[1]
        held = list(evaluator.cell.axes.held)
        fixed = np.zeros(len(still), dtype=bool)
        fixed[held] = still[held]
        self._low[fixed] = self._high[fixed] = both[0][fixed]
        self._trees: tuple[list[tuple[Array, int]], ...] = ([(both[0], -1)], [(both[1], -1)])

    def connect(self) -> list[Array] | None:
        """Return points of a clear way between the ends, without the ends; None if none came."""
        side = 0
        while self._edges < _MOST_EDGES:
            target = self._rng.uniform(self._low, self._high)
            reached = self._step(side, self._nearest(side, target), target)
            if reached is not None and self._meets(1 - side, reached):
                return self._cut(self._pulled(self._cut(self._way())))[1:-1]
            side = 1 - side
        return None

    def _nearest(self, side: int, target: Array) -> int:
        return int(np.argmin([np.abs(q - target).max() for q, _ in self._trees[side]]))

    def _step(self, side: int, at: int, target: Array, *, is_met: bool = False) -> Array | None:
        """Grow one edge from node ``at`` towards ``target``; None when it is not clear.

        ``is_met``: the target is a node of the other tree, and was found roomy when it grew.
        """
        tree = self._trees[side]
        q = tree[at][0]
        size = float(np.abs(target - q).max())
        if size == 0:
            return None
        step = target if size <= _EDGE else q + (target - q) * (_EDGE / size)
        if not (is_met and step is target) and not is_roomy(self._bench.cell, step):
            return None
        self._edges += 1
        ends = (q, step) if side == 0 else (step, q)
        if not self._bench.is_edge_clear(self._track, *ends):
            return None
        tree.append((step, at))
        return step

    def _meets(self, side: int, place: Array) -> bool:
        """Grow a tree to a place; True when all edges on the way there are clear."""
        at = self._nearest(side, place)
        while self._edges < _MOST_EDGES:
            step = self._step(side, at, place, is_met=True)
            if step is None:
                return False
            if step is place:
                return True
            at = len(self._trees[side]) - 1
        return False

    def _way(self) -> list[Array]:
        """Join the branches that met last: from the start's root to the end's."""
        parts = []
        for tree in self._trees:
            part, at = [], len(tree) - 1
            while at >= 0:
                part.append(tree[at][0])
                at = tree[at][1]
            parts.append(part)
        first, second = parts
        return [*first[::-1], *second[1:]]

    def _cut(self, way: list[Array]) -> list[Array]:
        """Leave out each point without which the way stays clear."""
        k = 0
        while k + 2 < len(way):
            if self._bench.is_edge_clear(self._track, way[k], way[k + 2]):
                del way[k + 1]
                k = max(k - 1, 0)  # the place before has another neighbour now
            else:
                k += 1
        return way

    def _pulled(self, way: list[Array]) -> list[Array]:
        """Halve each point's way to the straight joint move between its neighbours, and again."""
        for k in range(1, len(way) - 1):
            before, behind = way[k - 1], way[k + 1]
            span = behind - before
            size = float(span @ span)
            share = float(np.clip((way[k] - before) @ span / size, 0, 1)) if size > 0 else 0.0
            goal, near = before + share * span, 0.0
            for step in _PULLS:
                q = way[k] + (near + step) * (goal - way[k])
                edges = ((before, q), (q, behind))
                if is_roomy(self._bench.cell, q) and all(
                    self._bench.is_edge_clear(self._track, *edge) for edge in edges
                ):
                    near += step
            way[k] = way[k] + near * (goal - way[k])
        return way
