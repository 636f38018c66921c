"""Kernel calls: all queries about one obstacle in one, laid out before the first kernel runs.

While kernels run, the processor's caches hold triangles: any plain code in between two of them
takes about twice as long as before the first or behind the last.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from pathsim.clearance.engine import JOINED, SPAN_SHARE, SPAN_TRAVEL, Answered
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.records import Inner
from pathsim.clearance.swept import search
from pathsim.clearance.swept import search_node as entry
from pathsim.clearance.swept.batch import Batch
from pathsim.clearance.swept.cache import EngineCache
from pathsim.clearance.swept.chain_motion import rows_of
from pathsim.clearance.swept.intervals import intervals_below
from pathsim.clearance.swept.leaf_bound import new_workspace
from pathsim.clearance.swept.packing import PackedJobs, PackedMotion, PieceTrees
from pathsim.clearance.swept.records import QueryLimits
from pathsim.geometry.bvh import BoxTree
from pathsim.geometry.containment_kernel import FastSolid
from pathsim.geometry.mesh import ROUNDING
from pathsim.model import Piece
from pathsim.motion import PATH_ERROR
from pathsim.transforms import Array, IntArray, apply, inverse


def search_group(
    body: BoxTree,
    to_body: Array,
    trees: PieceTrees,
    whole: PackedMotion,
    jobs: PackedJobs,
    asked: QueryLimits,
    counts: IntArray,
) -> Array:
    """Answer questions about one body by the kernels, ``(n, RESULT)``; ``jobs (n, ...)``."""
    results = np.zeros((len(jobs.rows), entry.RESULT))
    results[:, entry.UPPER] = np.inf
    search.search_all(
        body, trees.tree, whole.links.chain, whole.motion, *jobs, to_body,
        asked.tolerance, np.full(len(results), asked.cap), results, new_workspace(counts),
    )  # fmt: skip
    return results


def intervals_of(
    body: BoxTree,
    to_body: Array,
    piece: Piece,
    whole: PackedMotion,
    trees: PieceTrees,
    limit: float,
    counts: IntArray,
) -> Array:
    """Return when a pair may be below ``limit``, m: ``(n, 2)`` s from the stretch's start.

    ``whole``: the motion of the piece's link over that stretch alone.
    """
    rows, references = whole.jobs({piece: trees.root[piece]})
    way = whole.motion.ways
    shortest = max(SPAN_TRAVEL, SPAN_SHARE * float(way.max() - way.min()))
    times: Array = intervals_below(
        body, trees.tree, whole.links.chain, whole.motion, rows[0], references[0], to_body,
        limit, shortest, JOINED * shortest, new_workspace(counts),
    )  # fmt: skip
    return times


#: Numbers in rows of results: which of a pair lies within the other.
INNER = (None, Inner.MOVING, Inner.STANDING)


@dataclass(frozen=True, eq=False)
class PackedObstacle:
    """Something that stands, how far from it pieces are told apart, and how finely, both m."""

    standing: Obstacle
    cap: float
    tolerance: float

    @cached_property
    def key(self) -> bytes:
        """All that decides answers about it."""
        place = np.asarray(self.standing.T_ref_mesh, float)
        asked = np.array([self.tolerance, self.cap])
        return self.standing.source.digest.encode() + place.tobytes() + asked.tobytes()

    @cached_property
    def box(self) -> Array:
        """Box ``(6,)`` in the chain's frame that holds it: low corner, high corner."""
        T = self.standing.T_ref_mesh
        placed = self.standing.source.corners @ T[:3, :3].T + T[:3, 3]
        return np.append(placed.min(axis=0) - ROUNDING, placed.max(axis=0) + ROUNDING)

    @property
    def asked(self) -> QueryLimits:
        """What kernels are asked for."""
        return QueryLimits(self.tolerance, self.cap + PATH_ERROR)

    @cached_property
    def to_source(self) -> Array:
        """Pose ``(4, 4)`` that takes the chain's frame to its own."""
        return inverse(self.standing.T_ref_mesh)

    @cached_property
    def to_body(self) -> Array:
        """The same for the kernels, ``(1, 12)``."""
        return rows_of(self.to_source[None])

    def inner_of(
        self, pieces: Sequence[Piece], poses: Array, memory: EngineCache
    ) -> list[Inner | None]:
        """Tell of each piece whether it lies wholly inside, or this inside the piece.

        ``poses (k, 4, 4)``: where the link of each piece is.
        """
        body = memory.solid(self.standing.source)
        placed = zip(pieces, self.to_source @ poses, strict=True)
        return [_inner_of(memory.solid(piece.mesh), body, T) for piece, T in placed]

    def inner_numbers(self, pieces: Sequence[Piece], poses: Array, memory: EngineCache) -> IntArray:
        """Return the same as numbers ``(k,)`` (``INNER``); ``poses (k, 12)``."""
        links = np.zeros((len(poses), 4, 4))
        links[:, :3], links[:, 3, 3] = poses.reshape(-1, 3, 4), 1.0
        return np.array([INNER.index(one) for one in self.inner_of(pieces, links, memory)])


def _inner_of(moving: FastSolid, body: FastSolid, T: Array) -> Inner | None:
    """Tell which lies within the other; ``T (4, 4)`` takes the piece to the body's frame."""
    # Boxes first: mostly they settle it.
    if body.may_hold(T, moving.witnesses, back=False) and body.holds(apply(T, moving.witnesses)):
        return Inner.MOVING
    if moving.may_hold(T, body.witnesses, back=True):
        return Inner.STANDING if moving.holds(apply(inverse(T), body.witnesses)) else None
    return None


@dataclass(eq=False)
class GroupJob:
    """All questions of a batch about one body that the same chain carries its pieces past.

    ``asked (k,)``: which of the batch they are; ``jobs (k, ...)``: theirs. ``results
    (k, RESULT)``: none before it has run; times count from each stretch's start. ``marked (m,)``:
    where it has still to be told whether one lies within the other.
    """

    thing: PackedObstacle
    body: BoxTree
    to_body: Array
    trees: PieceTrees
    whole: PackedMotion
    asked: IntArray
    jobs: PackedJobs
    counts: IntArray = field(default_factory=lambda: np.zeros(3, np.int64))
    results: Array | None = None
    marked: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))

    def run(self) -> None:
        """Answer the questions; where one may lie within the other is only marked."""
        results = search_group(
            self.body,
            self.to_body,
            self.trees,
            self.whole,
            self.jobs,
            self.thing.asked,
            self.counts,
        )
        self.marked = np.flatnonzero(results[:, entry.INSIDE] > 0)
        self.results = results

    def tell_inside(self, batch: Batch, memory: EngineCache) -> None:
        """Tell whether one lies within the other where it may; it has run."""
        assert self.results is not None  # noqa: S101 - the engine lets it run first
        if len(self.marked):
            pieces = [batch.queries[i].piece for i in self.asked[self.marked].tolist()]
            poses = self.whole.start_poses(self.jobs, self.marked)
            inner = self.thing.inner_numbers(pieces, poses, memory)
            self.results[self.marked, entry.INSIDE] = inner
            self.marked = self.marked[:0]

    @property
    def told(self) -> IntArray:
        """Which of its questions are wholly answered ``(m,)``: none before it has run."""
        if self.results is None:
            return np.zeros(0, np.int64)
        is_told = np.ones(len(self.results), dtype=bool)
        is_told[self.marked] = False
        return np.flatnonzero(is_told)


#: So many questions are not worth the threads for them, each mostly well below 0.1 ms.
_FEW = 64


def work_through(tasks: list[GroupJob], threads: int, answered: Answered | None) -> None:
    """Do tasks, several at once: the kernels let go of the interpreter's lock."""
    total = max(len(tasks), 1)
    # Few questions are answered before a second thread has begun.
    if threads < 2 or len(tasks) < 2 or sum(len(task.asked) for task in tasks) < _FEW:
        for done, task in enumerate(tasks):
            task.run()
            if answered is not None:
                answered((done + 1) / total)
        return
    with ThreadPoolExecutor(threads) as pool:
        try:
            for done, _ in enumerate(pool.map(GroupJob.run, tasks)):
                if answered is not None:
                    answered((done + 1) / total)
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
