"""The fast engine: the same queries as the reference engine's, answered by the kernels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence

import numpy as np

from pathsim.clearance.engine import Answered, Bounds, Pair, PairQuery, Span, joined_spans
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.records import Clearance, Content, Inner
from pathsim.clearance.reference.engine import TOLERANCE, ReferenceEngine
from pathsim.clearance.relative_chain import ChainId, chain_id, frame_of, moves_about
from pathsim.clearance.swept import search_node as entry
from pathsim.clearance.swept.answers import bounds, clearances
from pathsim.clearance.swept.batch import Batch, Chains
from pathsim.clearance.swept.broad_phase import beyond_caps
from pathsim.clearance.swept.cache import EngineCache
from pathsim.clearance.swept.chain_motion import MoveWindow, rows_of
from pathsim.clearance.swept.jobs import GroupJob, PackedObstacle, intervals_of, work_through
from pathsim.clearance.swept.packing import (
    PackedMotion,
    PackedPieces,
    pack_motion,
    piece_trees,
)
from pathsim.clearance.swept.sampler import FastSampler
from pathsim.errors import CannotCheck
from pathsim.geometry.tree_distance import distances, first_nearer
from pathsim.model import Cell, Piece
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array, IntArray, apply, inverse


class FastEngine:
    """Measures a cell with compiled kernels; ``search.py`` and ``motion_bound.py`` hold the proof.

    ``memory`` keeps trees, motions and answers: hand it to the engine of an edited cell, and
    only what changed is worked out anew. ``threads``: how many bodies are worked on at once.
    ``counts``: spheres bounded, leaves opened and triangle pairs looked at so far.
    """

    name, note = "fast", ""

    def __init__(
        self,
        cell: Cell,
        tolerance: float = TOLERANCE,
        cap: float | None = None,
        memory: EngineCache | None = None,
        threads: int = 2,
    ) -> None:
        """``cap`` m; when not given, as the reference engine has it."""
        self.reference = ReferenceEngine(cell, tolerance, cap)
        self.cell, self.tolerance, self.cap = cell, tolerance, self.reference.cap
        self.memory = EngineCache() if memory is None else memory
        self.threads = threads
        self.counts = np.zeros(3, np.int64)
        self.chains = Chains(cell, self.memory)
        self._motions: dict[tuple[bytes, int], PackedMotion] = {}

    def finer(self, tolerance: float, cap: float) -> FastEngine:
        """Return one with narrower intervals and a smaller cap, m; all that is kept is shared."""
        finer = FastEngine(self.cell, tolerance, cap, self.memory, self.threads)
        finer.chains, finer.counts = self.chains, self.counts
        return finer

    def on(self, track: MoveTrack) -> FastMove:
        """Return a measure for this move."""
        return FastMove(self, track)

    def looks(self, track: MoveTrack, pairs: Sequence[Pair]) -> FastSampler:
        """Return looks at these pairs on a move."""
        return FastSampler(self, track, pairs)

    def min_distance(
        self, queries: Sequence[PairQuery], answered: Answered | None = None
    ) -> list[Clearance]:
        """Return the clearance interval of each pair over its window."""
        if not queries:
            return []
        batch, near, rows, caps = self._answers(queries, answered)
        return clearances(self.cell, batch, near, rows, caps, self.tolerance)

    def bounds(self, queries: Sequence[PairQuery]) -> Bounds:
        """Return the ends of these intervals, as numbers alone."""
        if not queries:
            return Bounds.of(np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool))
        batch, near, rows, caps = self._answers(queries, None)
        return bounds(batch, near, rows, caps)

    def _answers(
        self, queries: Sequence[PairQuery], answered: Answered | None
    ) -> tuple[Batch, IntArray, Array, Array]:
        """Return the questions sorted, which were measured, what was found of those, all caps."""
        batch = Batch.of(queries, self.chains)
        things = [self.thing(standing) for standing in batch.standings]
        near = np.flatnonzero(~beyond_caps(batch, self.chains, things))
        standing = batch.standing.tolist()
        of_pairs = {
            k: batch.pairs[k][0].content + things[standing[k]].key
            for k in dict.fromkeys(batch.pair[near].tolist())
        }
        keys = batch.keys(of_pairs, near)
        rows, known = self.memory.answers.find(keys)
        places = np.full(len(queries), -1)
        places[near] = np.arange(len(near))
        tasks = self._tasks(batch, near[~known])
        try:
            work_through(tasks, self.threads, answered)
            for task in tasks:
                task.tell_inside(batch, self.memory)
        finally:
            # Also when somebody gave up in between, what was done is kept.
            for task in tasks:
                told = task.told
                if task.results is not None and len(told):
                    place, found = places[task.asked[told]], task.results[told]
                    rows[place] = found
                    self.memory.answers.keep([keys[i] for i in place.tolist()], found)
                self.counts += task.counts
        caps = np.array([thing.cap for thing in things])[batch.standing]
        return batch, near, rows, caps

    def _tasks(self, batch: Batch, asked: IntArray) -> list[GroupJob]:
        """Lay out the questions ``asked (k,)``, which nobody has answered yet."""
        groups = batch.groups(asked)
        of_chains: dict[ChainId, list[IntArray]] = defaultdict(list)
        for (chain, _), some in groups.items():
            of_chains[chain].append(some)
        carried = {}
        for chain, each in of_chains.items():
            trees = piece_trees(self.chains.pieces(chain), self.memory)
            carried[chain] = PackedPieces.of(batch, np.concatenate(each), trees)
        tasks = []
        for (chain, standing), some in groups.items():
            thing, carrier = self.thing(standing), carried[chain]
            body, jobs = self.memory.box_tree(standing.source), carrier.jobs(batch, some)
            tasks.append(
                GroupJob(thing, body, thing.to_body, carrier.trees, carrier.whole, some, jobs)
            )
        return tasks

    def near_times(self, part: MoveWindow, piece: Piece, standing: Obstacle, limit: float) -> Array:
        """Return when a pair may be below ``limit``, m: ``(n, 2)`` s from the stretch's start."""
        thing = self.thing(standing)

        def ask() -> Array:
            trees, counts = piece_trees([piece], self.memory), np.zeros(3, np.int64)
            body, whole = self.memory.box_tree(standing.source), self._packed(part, piece.link)
            times = intervals_of(body, thing.to_body, piece, whole, trees, limit, counts)
            self.counts += counts
            return times

        return self.memory.spans((part.key, piece.content + thing.key, limit), ask)

    def _packed(self, part: MoveWindow, link: int) -> PackedMotion:
        """Return one link's motion over a stretch as kernels take it: all pairs of the link ask."""
        key = part.key, link
        if key not in self._motions:
            self._motions[key] = pack_motion([part.course], [link])
        return self._motions[key]

    def kept(self, content: Content, make: Callable[[], Clearance]) -> Clearance:
        """Return what is kept under its content from check to check, made now if nothing is."""
        return self.memory.clearance(content, make)

    def distances(
        self, piece: Piece, standing: Obstacle, poses: Array, cap: float, enough: float = 0.0
    ) -> Array:
        """Distance ``(n,)`` m of a piece at ``poses (n, 4, 4)``, by the trees of both meshes."""
        moving, body = self.memory.sphere_tree(piece.mesh), self.memory.box_tree(standing.source)
        rows = rows_of(inverse(standing.T_ref_mesh) @ poses)
        found: Array = distances(moving, body, rows, cap, enough)
        # Not-a-number compares as neither near nor far: it would read as room.
        if not np.isfinite(found).all():
            raise CannotCheck(f"a distance of the {piece.name} came out as not a number")
        return found

    def thing(self, standing: Obstacle) -> PackedObstacle:
        """Return what is worked out once of what stands."""
        cap = standing.cap_within(self.cap)
        return self.memory.thing(
            (standing, cap, self.tolerance), lambda: PackedObstacle(standing, cap, self.tolerance)
        )


class FastMove:
    """Pairs on one move."""

    def __init__(self, engine: FastEngine, track: MoveTrack) -> None:
        self._engine, self._track = engine, track

    def closest(self, piece: Piece, standing: Obstacle, window: Span) -> Clearance:
        """Return the clearance interval of a pair over ``window``."""
        return self._engine.min_distance([PairQuery(self._track, piece, standing, window)])[0]

    def intervals_below(
        self, piece: Piece, standing: Obstacle, window: Span, threshold: float
    ) -> tuple[Span, ...]:
        """Return when the pair may be closer than ``threshold``, m; 0 asks for contact."""
        part = self._engine.chains.stretch(self._track, piece, standing, window)
        times = self._engine.near_times(part, piece, standing, threshold + PATH_ERROR)
        ends = np.minimum(part.real(times) + part.start, window.end)
        return joined_spans([Span(float(a), float(b)) for a, b in ends])

    def inner_at(self, piece: Piece, standing: Obstacle, times: Array) -> list[Inner | None]:
        """Tell which of the two lies wholly within the other at each of ``times (n,)``."""
        engine, poses = self._engine, self._poses(piece, standing, times)
        thing = engine.thing(standing)
        return thing.inner_of([piece] * len(times), poses, engine.memory)

    def first_contact(
        self, piece: Piece, standing: Obstacle, times: Array
    ) -> tuple[float, Array, Array] | None:
        """Return the first of ``times (n,)`` at which their surfaces meet, and where."""
        if not len(times):
            return None
        engine, memory = self._engine, self._engine.memory
        poses = inverse(standing.T_ref_mesh) @ self._poses(piece, standing, times)
        trees = memory.sphere_tree(piece.mesh), memory.box_tree(standing.source)
        k, places = first_nearer(*trees, rows_of(poses), entry.FINEST)
        if k < 0:
            return None
        T = standing.T_ref_mesh
        if moves_about(standing):
            T = frame_of(engine.cell, standing, self._track.q_at(times[k])[0]) @ T
        on_moving, on_standing = apply(T, places.reshape(2, 3))
        return float(times[k]), on_moving, on_standing

    def _poses(self, piece: Piece, standing: Obstacle, times: Array) -> Array:
        """Where the link of a piece is ``(n, 4, 4)`` as what stands sees it."""
        name = chain_id(piece, standing)
        linkage = self._engine.chains.links_on(name, self._track).linkage
        return linkage.poses_of(piece.link, self._track.q_at(times))
