"""Samples of the fast engine: many moments, and many short stretches, in one kernel call.

A moment is a stretch whose two knots are the same; there the search closes in on the exact
distance, since nothing moves. Pairs are asked one after the other, the nearest of the whole move
first, and each is only told apart up to what those before it have left.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from pathsim.clearance.engine import NearestSeen, Pair, PairQuery, Span
from pathsim.clearance.relative_chain import ChainId, chain_id, frame_of
from pathsim.clearance.swept import search
from pathsim.clearance.swept import search_node as entry
from pathsim.clearance.swept.chain_motion import ChainMotion, to_body
from pathsim.clearance.swept.leaf_bound import new_workspace
from pathsim.clearance.swept.packing import PackedMotion, pack_motion, piece_trees
from pathsim.errors import CannotCheck
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array, BoolArray, IntArray, apply

if TYPE_CHECKING:
    from pathsim.clearance.swept.engine import FastEngine

#: Width of the interval of a look, m.
_EXACT = 1e-6


class FastSampler:
    """Several pairs on one move; of several, those beyond the cap all along are asked once."""

    def __init__(self, engine: FastEngine, track: MoveTrack, pairs: Sequence[Pair]) -> None:
        self._engine, self._track, self._pairs = engine, track, list(pairs)
        near: Sequence[int] = [0]
        if len(self._pairs) != 1:  # of one there is nothing to sort
            whole = Span(float(track.t[0]), float(track.t[-1]))
            found = engine.min_distance([PairQuery(track, *pair, whole) for pair in self._pairs])
            lower = np.array([one.lower for one in found])
            #: The same kernels and the same bound: what has it on the whole move has it everywhere.
            near = [k for k in np.argsort(lower, kind="stable") if lower[k] < engine.cap]
        names = [chain_id(*pair) for pair in self._pairs]
        self._near = [(int(pair), names[pair]) for pair in near]
        self._trees = {name: piece_trees(engine.chains.pieces(name), engine.memory)
                       for _, name in self._near}  # fmt: skip

    def nearest(self, times: Array, asked: BoolArray) -> NearestSeen:
        """Return the nearest pair at each moment."""
        found = NearestSeen.none(len(times))
        q = self._track.q_at(times)
        knots = [(np.repeat(row[None], 2, axis=0), np.array([0.0, 1.0])) for row in q]
        left = np.full(len(times), self._engine.cap)
        for pair, place, rows in self._answers(knots, asked, _EXACT, left):
            # Below what the search tells apart it is contact.
            distance = np.where(rows[:, entry.UPPER] <= entry.FINEST, 0.0, rows[:, entry.UPPER])
            nearer = distance < left[place]
            here, points = place[nearer], rows[nearer, entry.ON_MOVING : entry.ON_STANDING + 3]
            found.pair[here], found.distance[here] = pair, distance[nearer]
            found.on_moving[here], found.on_standing[here] = points[:, :3], points[:, 3:]
            left[here] = distance[nearer]
        for k in np.flatnonzero(found.pair >= 0):
            standing = self._pairs[found.pair[k]][1]
            T = frame_of(self._engine.cell, standing, q[k]) @ standing.T_ref_mesh
            points = np.stack([found.on_moving[k], found.on_standing[k]])
            found.on_moving[k], found.on_standing[k] = apply(T, points)
        return found

    def least(self, times: Array, asked: BoolArray, proved: Array) -> tuple[Array, IntArray]:
        """Lower bound between neighbouring moments."""
        engine, t = self._engine, self._track.t
        left, nearest = np.full(len(times) - 1, engine.cap), np.full(len(times) - 1, -1)
        knots = []
        for start, end in itertools.pairwise(times):
            inside = t[(t > start) & (t < end)]
            moments = np.concatenate([[start], inside, [end]])
            knots.append((self._track.q_at(moments), moments - start))
        # What is known to stay beyond what others have left cannot be the least.
        for pair, place, rows in self._answers(knots, asked, engine.tolerance, left, proved):
            lower = np.maximum(rows[:, entry.LOWER] - PATH_ERROR, proved[place, pair])
            held = np.maximum(lower, 0.0)
            less = held < left[place]
            left[place[less]], nearest[place[less]] = held[less], pair
        return left, nearest

    def _answers(
        self,
        knots: list[tuple[Array, Array]],
        asked: BoolArray,
        tolerance: float,
        left: Array,
        proved: Array | None = None,
    ) -> Iterator[tuple[int, IntArray, Array]]:
        """Yield for each pair that counts the rows of ``asked`` it counts in, and their results.

        ``knots``: joints ``(k, axes)`` and times ``(k,)`` of each of the n stretches that the
        rows of ``asked (n, pairs)`` are about. ``left (n,)``: farther than this nothing counts
        there, m; whoever takes the results lowers it for the pairs that follow. ``proved (n,
        pairs)``: what is known already.
        """
        laid: dict[ChainId, PackedMotion] = {}
        for pair, chain in self._near:
            needed = asked[:, pair] & (left > 0.0)
            if proved is not None:
                needed &= proved[:, pair] < left
            place = np.flatnonzero(needed)
            if not len(place):
                continue
            if chain not in laid:
                links = self._engine.chains.links_on(chain, self._track)
                joints = [np.ascontiguousarray(links.linkage.joints(q)) for q, _ in knots]
                parts = zip(joints, knots, strict=True)
                pieces = [self._pairs[other][0] for other, name in self._near if name == chain]
                laid[chain] = pack_motion([ChainMotion.of(links, q, t) for q, (_, t) in parts],
                                     {piece.link for piece in pieces})  # fmt: skip
            yield pair, place, self._ask(pair, chain, laid[chain], place, tolerance, left[place])

    def _ask(self, pair: int, chain: ChainId, laid: PackedMotion, place: IntArray, tolerance: float,
             left: Array) -> Array:  # fmt: skip
        """Answer one pair on the stretches at ``place``; rows of results."""
        engine, (piece, standing) = self._engine, self._pairs[pair]
        trees = self._trees[chain]
        rows, references = laid.jobs({piece: trees.root[piece]})
        results = np.zeros((len(place), entry.RESULT))
        results[:, entry.UPPER] = np.inf
        counts = np.zeros(3, np.int64)
        search.search_all(
            engine.memory.box_tree(standing.source), trees.tree, laid.links.chain, laid.motion,
            rows[place, 0], references[place, 0], to_body(standing), tolerance,
            left + PATH_ERROR, results, new_workspace(counts),
        )  # fmt: skip
        engine.counts += counts
        # Not-a-number is never the least: it would read as clear.
        if np.isnan(results[:, [entry.LOWER, entry.UPPER]]).any():
            raise CannotCheck(f"a clearance of the {piece.name} came out as not a number")
        return results
