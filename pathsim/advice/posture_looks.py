"""Looks at postures, which tell cheaply what is surely too near. They prove nothing clear.

Distances of meshes that stand still need no motion laid out: a move that fails does so at most
moments near its worst, and a look costs a tenth of a proof.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from pathsim.clearance.contact_rules import Obstacle
from pathsim.clearance.engine import Engine, Pair
from pathsim.model import Cell, Piece, StandsOn
from pathsim.transforms import Array, BoolArray, apply, inverse


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

    def gaps(self, piece: Piece, standing: Obstacle) -> Array:
        """Gaps ``(n,)`` between the boxes of the two, m: no more than their distances."""
        key = piece, standing.stands_on
        if key not in self._boxes:
            corners = apply(self._poses(*key), piece.mesh.corners)
            self._boxes[key] = np.stack([corners.min(axis=1), corners.max(axis=1)], axis=1)
        moving = self._boxes[key]
        there = apply(standing.T_ref_mesh, standing.source.corners)
        low, high = there.min(axis=0), there.max(axis=0)
        apart = np.maximum(moving[:, 0] - high, low - moving[:, 1])
        return np.asarray(np.linalg.norm(np.maximum(apart, 0.0), axis=1))

    def least(self, pair: Pair, cap: float, which: np.ndarray, enough: float) -> Array:
        """Distances ``(k,)`` m of a pair at some of the postures; ``cap`` where it is no less.

        Below ``enough`` it is only known to be below it.
        """
        piece, standing = pair
        found = np.full(len(which), cap)
        near = np.flatnonzero(self.gaps(piece, standing)[which] < cap)
        if len(near):
            poses = self._poses(piece, standing.stands_on)[which[near]]
            found[near] = self.engine.distances(piece, standing, poses, cap, enough)
        return found

    def all_off(self, pairs: Sequence[Pair], asked: Sequence[float]) -> BoolArray:
        """Tell where ``(n,)`` every pair is farther apart than is asked of it, m."""
        is_off = np.ones(len(self.q), dtype=bool)
        for pair, need in zip(pairs, asked, strict=True):
            left = np.flatnonzero(is_off)
            is_off[left] = self.least(pair, need, left, need) >= need
        return is_off
