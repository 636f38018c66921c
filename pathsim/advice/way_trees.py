"""Two trees of proved joint moves, one from either side of a section, until they meet.

RRT-Connect (Kuffner and LaValle, 2000) with many roots at either side, grown by a few random
postures at once, since proofs asked together cost much less than one by one. The random numbers
have a fixed seed: the same cell gives the same advice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from pathsim.findings.places import is_roomy
from pathsim.model import Cell
from pathsim.transforms import Array

_SEED = 1
#: Longest branch, rad (m for slides); how far beyond the roots each axis may go.
_BRANCH, _AROUND = 0.7, 1.4
#: So many random postures at once.
_AT_ONCE = 10
#: So often in turn the trees grow towards each other before new random postures come.
_TURNS = 3

#: Proves joint moves ``(from, to)``; the root's number where one starts or ends at a root, else -1.
Prove = Callable[[Sequence[tuple[Array, Array, int, int]]], Array]


class WayTrees:
    """``starts``, ``ends``: roots, axes ``(axes,)`` each. ``need`` m: left over on each move."""

    def __init__(
        self, cell: Cell, starts: Sequence[Array], ends: Sequence[Array], prove: Prove, need: float
    ) -> None:
        self._cell, self._prove, self._need = cell, prove, need
        self._rng = np.random.default_rng(_SEED)
        self._trees = [[(q, -1, k) for k, q in enumerate(side)] for side in (starts, ends)]
        both = np.stack([*starts, *ends])
        axes = cell.axes
        low, high = both.min(axis=0) - _AROUND, both.max(axis=0) + _AROUND
        held = list(axes.held)
        low[held], high[held] = both[:, held].min(axis=0), both[:, held].max(axis=0)
        self._low, self._high = np.maximum(low, axes.lower), np.minimum(high, axes.upper)
        self.asked = 0

    def way(self, most: int) -> list[Array] | None:
        """Return a proved way ``[(axes,), ...]`` from a start to an end; None in ``most`` moves."""
        side = 0
        while self.asked < most:
            targets = list(self._rng.uniform(self._low, self._high, (_AT_ONCE, len(self._low))))
            # The other tree grows towards what this one has come to, as long as it comes nearer.
            for _ in range(_TURNS):
                grown = self._grow(side, targets)
                met = self._meet(side, grown)
                if met is not None:
                    return self._joined(side, *met)
                targets = [self._trees[side][k][0] for k in grown]
                side = 1 - side
                if not targets:
                    break
        return None

    def _grow(self, side: int, targets: Sequence[Array]) -> list[int]:
        """Grow a tree towards postures; return its new nodes."""
        tree = self._trees[side]
        nodes = np.stack([q for q, _, _ in tree])
        todo: list[tuple[int, Array]] = []
        for target in targets:
            at = int(np.argmin(np.abs(nodes - target).max(axis=1)))
            size = float(np.abs(target - nodes[at]).max())
            if size == 0:
                continue
            step = nodes[at] + (target - nodes[at]) * min(1.0, _BRANCH / size)
            if is_roomy(self._cell, step):
                todo.append((at, step))
        spares = self._ask([self._move(side, tree[at], step, -1) for at, step in todo])
        new = []
        for (at, step), spare in zip(todo, spares.tolist(), strict=True):
            if spare >= self._need:
                new.append(len(tree))
                tree.append((step, at, -1))
        return new

    def _meet(self, side: int, grown: Sequence[int]) -> tuple[int, int] | None:
        """Try to go from new nodes straight to the nearest node of the other tree."""
        mine, other = self._trees[side], self._trees[1 - side]
        if not grown:
            return None
        nodes = np.stack([q for q, _, _ in other])
        nearest = [int(np.argmin(np.abs(nodes - mine[k][0]).max(axis=1))) for k in grown]
        moves = [self._move(side, mine[k], other[n][0], other[n][2])
                 for k, n in zip(grown, nearest, strict=True)]  # fmt: skip
        spares = self._ask(moves)
        for k, n, spare in zip(grown, nearest, spares.tolist(), strict=True):
            if spare >= self._need:
                return k, n
        return None

    @staticmethod
    def _move(
        side: int, node: tuple[Array, int, int], to: Array, root: int
    ) -> tuple[Array, Array, int, int]:
        """Return a move in the direction in which it is gone."""
        return (node[0], to, node[2], root) if side == 0 else (to, node[0], root, node[2])

    def _ask(self, moves: Sequence[tuple[Array, Array, int, int]]) -> Array:
        self.asked += len(moves)
        return self._prove(moves) if moves else np.zeros(0)

    def _joined(self, side: int, mine: int, other: int) -> list[Array]:
        parts = [self._branch(side, mine), self._branch(1 - side, other)]
        first, second = parts if side == 0 else parts[::-1]
        return [*first[::-1], *second]

    def _branch(self, side: int, at: int) -> list[Array]:
        part = []
        while at >= 0:
            q, before, _ = self._trees[side][at]
            part.append(q)
            at = before
        return part
