"""Two trees of joint moves, one from either side of a section, until they meet.

RRT-Connect (Kuffner and LaValle, 2000) with many roots at either side, grown by a few random
postures at once, since moves asked about together cost much less than one by one. They grow by
looks; only the way where they meet is proved, and what of it fails is cut off with all that grew
from there (lazy collision checking: Sanchez and Latombe, 2003). The random numbers have a fixed
seed: the same cell gives the same advice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.findings.places import is_roomy
from pathsim.model import Cell
from pathsim.transforms import Array, BoolArray

_SEED = 1
#: Longest branch, rad (m for slides); how far beyond the roots each axis may go.
_BRANCH, _AROUND = 0.7, 1.4
#: So many random postures at once.
_AT_ONCE = 10
#: A tree that so many moves from its roots did not let grow is given up.
_STUCK = 250
#: So often in turn the trees grow towards each other before new random postures come.
_TURNS = 3

#: A joint move ``(from, to)``; the root's number where it starts or ends at a root, else -1.
TreeMove = tuple[Array, Array, int, int]
#: Proves moves: what is left over the margin ``(n,)`` m. Or tells what looks clear ``(n,)``.
Prove = Callable[[Sequence[TreeMove]], Array]
Look = Callable[[Sequence[TreeMove]], BoolArray]


@dataclass(eq=False)
class _Node:
    """A posture ``(axes,)``, the node before it and its root by number, -1 for none.

    ``is_proved``: of the move from the node before it. ``is_cut``: it leads nowhere.
    """

    q: Array
    before: int
    root: int
    is_proved: bool = False
    is_cut: bool = False


class WayTrees:
    """``starts``, ``ends``: roots, axes ``(axes,)`` each. ``need`` m: left over on each move.

    ``look``: tells quickly which moves look as if so much were left; ``prove`` has the last word.
    """

    def __init__(
        self,
        cell: Cell,
        starts: Sequence[Array],
        ends: Sequence[Array],
        look: Look,
        prove: Prove,
        need: float,
    ) -> None:
        self._cell, self._look, self._prove, self._need = cell, look, prove, need
        self._rng = np.random.default_rng(_SEED)
        self._trees = [[_Node(q, -1, k) for k, q in enumerate(side)] for side in (starts, ends)]
        both = np.stack([*starts, *ends])
        axes = cell.axes
        low, high = both.min(axis=0) - _AROUND, both.max(axis=0) + _AROUND
        held = list(axes.held)
        low[held], high[held] = both[:, held].min(axis=0), both[:, held].max(axis=0)
        self._low, self._high = np.maximum(low, axes.lower), np.minimum(high, axes.upper)
        self.asked = 0
        self._tried, self._roots = [0, 0], (len(starts), len(ends))

    def way(self, most: int) -> list[Array] | None:
        """Return a proved way ``[(axes,), ...]`` from a start to an end; None in ``most`` moves."""
        side = 0
        while self.asked < most and not self._is_stuck():
            targets = list(self._rng.uniform(self._low, self._high, (_AT_ONCE, len(self._low))))
            # The other tree grows towards what this one has come to, as long as it comes nearer.
            for _ in range(_TURNS):
                grown = self._grow(side, targets)
                for mine, other in self._meeting(side, grown):
                    way = self._proved(side, mine, other)
                    if way is not None:
                        return way
                tree = self._trees[side]
                targets = [tree[k].q for k in grown if not tree[k].is_cut]
                side = 1 - side
                if not targets:
                    break
        return None

    def _is_stuck(self) -> bool:
        """Tell whether a tree was let grow so often and never did: there is no way out."""
        return any(
            tried >= _STUCK and len(tree) == roots
            for tried, tree, roots in zip(self._tried, self._trees, self._roots, strict=True)
        )

    def _grow(self, side: int, targets: Sequence[Array]) -> list[int]:
        """Grow a tree towards postures; return its new nodes."""
        tree = self._trees[side]
        todo: list[tuple[int, Array]] = []
        for target, at in zip(targets, self._nearest(side, targets), strict=True):
            start = tree[at].q
            size = float(np.abs(target - start).max())
            if size == 0:
                continue
            step = start + (target - start) * min(1.0, _BRANCH / size)
            if is_roomy(self._cell, step):
                todo.append((at, step))
        self._tried[side] += len(todo)
        looks = self._looked([self._move(side, tree[at], step, -1) for at, step in todo])
        new = []
        for (at, step), is_off in zip(todo, looks, strict=True):
            if is_off:
                new.append(len(tree))
                tree.append(_Node(step, at, -1))
        return new

    def _nearest(self, side: int, targets: Sequence[Array]) -> list[int]:
        """Return the node of a tree that is nearest to each of some postures."""
        tree = self._trees[side]
        kept = [k for k, node in enumerate(tree) if not node.is_cut]
        nodes = np.stack([tree[k].q for k in kept])
        return [kept[int(np.argmin(np.abs(nodes - q).max(axis=1)))] for q in targets]

    def _meeting(self, side: int, grown: Sequence[int]) -> list[tuple[int, int]]:
        """Return new nodes from where it looks clear straight to the other tree's nearest."""
        mine, other = self._trees[side], self._trees[1 - side]
        nearest = self._nearest(1 - side, [mine[k].q for k in grown])
        pairs = list(zip(grown, nearest, strict=True))
        moves = [self._move(side, mine[k], other[n].q, other[n].root) for k, n in pairs]
        return [pair for pair, is_off in zip(pairs, self._looked(moves), strict=True) if is_off]

    def _proved(self, side: int, mine: int, other: int) -> list[Array] | None:
        """Prove what is not proved yet of the way by two nodes; cut off what fails, and say None.

        Roots are never cut off: no move comes to them.
        """
        trees = self._trees
        if trees[side][mine].is_cut or trees[1 - side][other].is_cut:
            return None
        branches = [(side, self._branch(side, mine)), (1 - side, self._branch(1 - side, other))]
        new = [(s, k) for s, branch in branches for k in branch[:-1] if not trees[s][k].is_proved]
        end = trees[1 - side][other]
        moves = [self._move(s, trees[s][trees[s][k].before], trees[s][k].q, -1) for s, k in new]
        moves.append(self._move(side, trees[side][mine], end.q, end.root))
        self.asked += len(moves)
        is_left = (self._prove(moves) >= self._need).tolist()
        for (s, k), is_clear in zip(new, is_left[:-1], strict=True):
            trees[s][k].is_proved = is_clear
            if not is_clear:
                self._cut(s, k)
        if not all(is_left):
            return None
        (_, first), (_, second) = branches if side == 0 else branches[::-1]
        return [*(trees[0][k].q for k in first[::-1]), *(trees[1][k].q for k in second)]

    def _cut(self, side: int, at: int) -> None:
        """Cut off a node with all that grew from it: later ones, each behind the one before it."""
        tree = self._trees[side]
        tree[at].is_cut = True
        for node in tree[at + 1 :]:
            node.is_cut = node.is_cut or (node.before >= 0 and tree[node.before].is_cut)

    @staticmethod
    def _move(side: int, node: _Node, to: Array, root: int) -> TreeMove:
        """Return a move in the direction in which it is gone."""
        return (node.q, to, node.root, root) if side == 0 else (to, node.q, root, node.root)

    def _looked(self, moves: Sequence[TreeMove]) -> list[bool]:
        self.asked += len(moves)
        return self._look(moves).tolist() if moves else []

    def _branch(self, side: int, at: int) -> list[int]:
        """Return a node and those before it, down to its root."""
        part = []
        while at >= 0:
            part.append(at)
            at = self._trees[side][at].before
        return part
