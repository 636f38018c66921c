"""Looks at postures, which tell cheaply what is surely too near. They prove nothing clear.

Distances of meshes that stand still need no motion laid out: a move that fails does so at most
moments near its worst, and a look costs a tenth of a proof.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from pathsim.clearance.engine import Engine, Pair
from pathsim.model import Cell, Piece, StandsOn
from pathsim.transforms import Array, BoolArray, IntArray, inverse

#: So far a joint turns between two looks at a move, rad (m of a slide); so many looks at most.
TURN, MOST_LOOKS = 0.12, 18
#: Beside a weld it is looked at these shares of the first part too.
_NEARER = np.array([0.5, 0.25, 0.125, 0.0625])


def standing_boxes(pairs: Sequence[Pair]) -> Array:
    """Boxes ``(pairs, 2, 3)`` round what stands of some pairs, m."""
    return np.array([thing.box for _, thing in pairs]).reshape(-1, 2, 3)


class AirPairs:
    """Pairs with what is asked of each, ``asked (pairs,)`` m, and the boxes of what stands.

    ``order``: their places in the order in which they are looked at.
    """

    def __init__(self, pairs: Sequence[Pair], asked: Sequence[float]) -> None:
        most: dict[Pair, float] = {}
        for pair, margin in zip(pairs, asked, strict=True):
            most[pair] = max(margin, most.get(pair, margin))
        self.pairs, self.asked = list(most), np.array([*most.values()])
        self.boxes = standing_boxes(self.pairs)
        self.order = list(range(len(self.pairs)))


@dataclass(eq=False)
class PostureLooks:
    """Postures ``q (n, axes)`` of a cell, looked at by an engine's trees."""

    cell: Cell
    engine: Engine
    q: Array
    _boxes: dict[tuple[Piece, StandsOn], Array] = field(default_factory=dict)

    @cached_property
    def _links(self) -> Array:
        return np.asarray(self.cell.link_poses(self.q))

    @cached_property
    def _to_frame(self) -> dict[StandsOn, Array]:
        frames = self.cell.frames[1:]
        return {frame: inverse(self.cell.frame_motion(frame, self.q)) for frame in frames}

    def _poses(self, piece: Piece, frame: StandsOn) -> Array:
        """Poses ``(n, 4, 4)`` of the link that carries a piece, as seen from what stands."""
        poses = self._links[:, piece.link]
        return np.asarray(self._to_frame[frame] @ poses if frame.is_carried else poses)

    def _boxes_of(self, piece: Piece, frame: StandsOn) -> Array:
        """Boxes ``(n, 2, 3)`` round a piece, m, as seen from what stands."""
        key = piece, frame
        if key not in self._boxes:
            # The box of a turned box, by its middle and half sizes: as of its eight corners.
            poses, corners = self._poses(*key), piece.mesh.corners
            low, high = corners.min(axis=0), corners.max(axis=0)
            turns = poses[:, :3, :3]
            middle = turns @ (0.5 * (low + high)) + poses[:, :3, 3]
            half = np.abs(turns) @ (0.5 * (high - low))
            self._boxes[key] = np.stack([middle - half, middle + half], axis=1)
        return self._boxes[key]

    def gaps(self, pairs: Sequence[Pair], standing: Array) -> Array:
        """Gaps ``(pairs, n)`` between the boxes of two, m: no more than their distances.

        ``standing (pairs, 2, 3)``: the boxes of what stands, m.
        """
        moving = np.stack([self._boxes_of(piece, thing.stands_on) for piece, thing in pairs])
        low, high = standing[:, None, 0], standing[:, None, 1]
        apart = np.maximum(np.maximum(moving[:, :, 0] - high, low - moving[:, :, 1]), 0.0)
        return np.asarray(np.sqrt(np.einsum("pnk,pnk->pn", apart, apart)))

    def least(self, pair: Pair, cap: float, which: IntArray, enough: float) -> Array:
        """Distances ``(k,)`` m of a pair at some of the postures; ``cap`` where it is no less.

        Below ``enough`` it is only known to be below it.
        """
        found = np.full(len(which), cap)
        near = np.flatnonzero(self.gaps([pair], standing_boxes([pair]))[0, which] < cap)
        if len(near):
            found[near] = self._distances(pair, which[near], cap, enough)
        return found

    def all_off(
        self, pairs: AirPairs, need: float = 0.0, move: IntArray | None = None
    ) -> tuple[BoolArray, list[int]]:
        """Tell where ``(n,)`` every pair is farther apart than is asked of it and ``need``, m.

        ``move (n,)``: the postures with one number count together, ``(moves,)`` are told.
        The second are the places of the pairs that were too near.
        """
        of = np.arange(len(self.q)) if move is None else move
        is_off = np.ones(int(of.max(initial=-1)) + 1, dtype=bool)
        stopped: list[int] = []
        if not pairs.pairs:
            return is_off, stopped
        asked = pairs.asked + need
        near = np.asarray(self.gaps(pairs.pairs, pairs.boxes) < asked[:, None])
        some = set(np.flatnonzero(near.any(axis=1)).tolist())
        for k in (k for k in pairs.order if k in some):
            left = np.flatnonzero(near[k] & is_off[of])
            if not len(left):
                continue
            found = self._distances(pairs.pairs[k], left, asked[k], asked[k])
            short = left[np.flatnonzero(found < asked[k])]
            if len(short):
                is_off[of[short]] = False
                stopped.append(k)
        return is_off, stopped

    def _distances(self, pair: Pair, which: IntArray, cap: float, enough: float) -> Array:
        piece, standing = pair
        poses = self._poses(piece, standing.stands_on)[which]
        return self.engine.distances(piece, standing, poses, cap, enough)


@dataclass(eq=False)
class AirLooks:
    """Looks at joint moves in the air of one cell, at pairs with what is asked of each."""

    cell: Cell
    engine: Engine
    pairs: AirPairs

    def postures(self, q: Sequence[Array], need: float) -> BoolArray:
        """Tell which postures ``(n,)`` look as if they kept ``need`` m over all that is asked."""
        return self._look(list(q), np.arange(len(q)), need)

    def moves(
        self,
        ends: Sequence[tuple[Array, Array]],
        need: float,
        by_weld: Sequence[tuple[bool, bool]] | None = None,
    ) -> BoolArray:
        """Tell the same of moves ``(n,)`` from one posture to another, by looks along them.

        Few looks first, and the rest only at moves that still look clear then. ``by_weld``: whether
        a move leaves a weld, and whether it comes to one: near it other margins hold, and nothing
        is looked at.
        """
        is_off = np.ones(len(ends), dtype=bool)
        shares = [np.linspace(0.0, 1.0, _looks(a, b) + 1) for a, b in ends]
        beside = [(False, False)] * len(ends) if by_weld is None else by_weld
        for fine in (False, True):
            left = np.flatnonzero(is_off)
            at = [(k, share) for k in left.tolist() for share in _some_of(shares[k], fine)]
            if not fine:
                at += [(k, share) for k in left.tolist()
                       for share in _beside_welds(shares[k], beside[k])]  # fmt: skip
            along = [ends[k][0] + share * (ends[k][1] - ends[k][0]) for k, share in at]
            place = {k: n for n, k in enumerate(left.tolist())}
            move = np.array([place[k] for k, _ in at], dtype=np.int64)
            if by_weld is not None and at:
                in_air = self._away_from_welds(np.stack(along), [k for k, _ in at], ends, by_weld)
                along = [q for q, is_there in zip(along, in_air.tolist(), strict=True) if is_there]
                move = move[in_air]
            looked = self._look(along, move, need)
            is_off[left[: len(looked)]] &= looked
        return is_off

    @property
    def weld_radius(self) -> float:
        """How far from a weld a tip is surely in the air, m."""
        return 1.05 * max(self.cell.torch.wire_length, 1.5 * self.cell.margins.air) + 1e-3

    def _away_from_welds(
        self,
        q: Array,
        of_move: Sequence[int],
        ends: Sequence[tuple[Array, Array]],
        by_weld: Sequence[tuple[bool, bool]],
    ) -> BoolArray:
        """Tell which postures ``(n, axes)`` are surely in the air, by where their tip is."""
        in_air = np.ones(len(q), dtype=bool)
        for side in (0, 1):
            which = np.array([by_weld[k][side] for k in of_move], dtype=bool)
            if not which.any():
                continue
            weld = np.stack([ends[k][side] for k in of_move])[which]
            far = np.zeros(len(weld))
            for frame in self.cell.frames:
                here, there = (self.cell.tips_seen_from(frame, one) for one in (q[which], weld))
                far = np.maximum(far, np.linalg.norm(here - there, axis=-1))
            in_air[which] &= far > self.weld_radius
        return in_air

    def _look(self, q: Sequence[Array], move: IntArray, need: float) -> BoolArray:
        count = int(move.max(initial=-1)) + 1
        is_off = np.ones(count, dtype=bool)
        if not count:
            return is_off
        every = np.stack(q)
        is_off[move[(self.cell.axes.room(every) < -1e-9).any(axis=1)]] = False
        kept = is_off[move]
        if not kept.any():
            return is_off
        looks = PostureLooks(self.cell, self.engine, every[kept])
        looked, stopped = looks.all_off(self.pairs, need, move[kept])
        is_off[: len(looked)] &= looked
        first = set(stopped)
        self.pairs.order = [*stopped, *(k for k in self.pairs.order if k not in first)]
        return is_off


def _looks(a: Array, b: Array) -> int:
    """Return into how many parts a move from ``a`` to ``b`` is cut for looks."""
    return int(np.clip(np.ceil(np.abs(b - a).max() / TURN), 3, MOST_LOOKS))


def _beside_welds(shares: Array, by_weld: tuple[bool, bool]) -> list[float]:
    """Return looks between a weld and the first look at a move: most fail just off the weld."""
    near = shares[1] * _NEARER
    leaves, comes = by_weld
    found: list[float] = [*(near if leaves else ()), *(1.0 - near if comes else ())]
    return found


def _some_of(shares: Array, fine: bool) -> list[float]:
    """Return every third of the looks at a move, or the others."""
    is_coarse = np.arange(len(shares)) % 3 == 1
    chosen: list[float] = shares[~is_coarse if fine else is_coarse].tolist()
    return chosen
