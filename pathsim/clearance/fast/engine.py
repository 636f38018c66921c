"""The fast engine: the same questions as the reference engine's, answered by the kernels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from pathsim.clearance.corner import Corner
from pathsim.clearance.engine import Answered, Pair, Question, Span
from pathsim.clearance.fast import entry, search
from pathsim.clearance.fast.batch import Batch, Group
from pathsim.clearance.fast.carried import Carried
from pathsim.clearance.fast.chains import Chains
from pathsim.clearance.fast.clearances import clearances
from pathsim.clearance.fast.joined import Jobs, Joined, joined
from pathsim.clearance.fast.leaf import new_desk
from pathsim.clearance.fast.looks import FastLooks
from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.fast.records import Asked, BoxTree, Whole
from pathsim.clearance.fast.scene import PieceTrees, piece_trees
from pathsim.clearance.fast.spans import spans_below
from pathsim.clearance.fast.stretch import Stretched, to_body
from pathsim.clearance.fast.thing import Thing
from pathsim.clearance.records import Clearance
from pathsim.clearance.reference import TOLERANCE, ReferenceEngine, joined_spans
from pathsim.clearance.rules import Standing
from pathsim.model import Cell, Piece
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array

#: A piece travels at most this far in the shortest span told apart, m.
_SPAN_TRAVEL = 5e-4


class FastEngine:
    """Measures a cell with compiled kernels; ``search.py`` and ``motion.py`` hold the proof.

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
        memory: Memory | None = None,
        threads: int = 2,
    ) -> None:
        """``cap`` m; when not given, as the reference engine has it."""
        self.reference = ReferenceEngine(cell, tolerance, cap)
        self.cell, self.tolerance, self.cap = cell, tolerance, self.reference.cap
        self.memory = Memory() if memory is None else memory
        self.threads = threads
        self.counts = np.zeros(3, np.int64)
        self.chains = Chains(cell, self.memory)
        self._things: dict[Standing, Thing] = {}

    def on(self, track: MoveTrack) -> FastMove:
        """Return a measure for this move."""
        return FastMove(self, track)

    def looks(self, track: MoveTrack, pairs: Sequence[Pair]) -> FastLooks:
        """Return looks at these pairs on a move."""
        return FastLooks(self, track, pairs)

    def closest_of(
        self, questions: Sequence[Question], answered: Answered | None = None
    ) -> list[Clearance]:
        """Return the clearance interval of each pair over its window."""
        if not questions:
            return []
        batch = Batch.of(questions, self.chains)
        things = [self._thing(standing) for _, standing in batch.pairs]
        pairs = zip(batch.pairs, things, strict=True)
        keys = batch.keys([_piece_key(piece) + thing.key for (piece, _), thing in pairs])
        rows, known = self.memory.answers.find(keys)
        groups = batch.groups(np.flatnonzero(~known))
        carried = self._carried(batch, groups)

        def measure(group: Group) -> None:
            asked = groups[group]
            rows[asked] = self._measure(group, batch, asked, carried[group[0]])
            self.memory.answers.keep([keys[i] for i in asked.tolist()], rows[asked])

        _work_through(list(groups), measure, self.threads, answered)
        caps = np.array([thing.cap for thing in things])
        return clearances(self.cell, batch, rows, caps, self.tolerance)

    def _carried(self, batch: Batch, groups: Mapping[Group, Whole]) -> dict[str, Carried]:
        """Make ready what each chain carries on the stretches that have to be measured."""
        of_chains: dict[str, list[Whole]] = defaultdict(list)
        for (chain, standing), asked in groups.items():
            of_chains[chain].append(asked)
            self.memory.box_tree(standing.source)
        carried = {}
        for chain, some in of_chains.items():
            trees = piece_trees(self.chains.pieces(chain), self.memory)
            carried[chain] = Carried.of(batch, np.concatenate(some), trees)
        return carried

    def _measure(self, group: Group, batch: Batch, asked: Whole, carried: Carried) -> Array:
        """Answer questions about one body, ``(k, RESULT)``; times from each stretch's start."""
        thing, counts = self._thing(group[1]), np.zeros(3, np.int64)
        jobs = carried.jobs(batch, asked)
        body = self.memory.box_tree(thing.standing.source)
        results = measure_group(
            body, thing.to_body, carried.trees, carried.whole, jobs, thing.asked, counts
        )
        self.counts += counts
        near = np.flatnonzero(results[:, entry.INSIDE] > 0)
        if len(near):
            pieces = [batch.questions[i].piece for i in asked[near].tolist()]
            poses = carried.whole.start_poses(jobs, near)
            results[near, entry.INSIDE] = thing.lies_within(pieces, poses, self.memory)
        return results

    def _thing(self, standing: Standing) -> Thing:
        """Return what is worked out once of what stands."""
        if standing not in self._things:
            cap = self.reference.cap_for(standing)
            self._things[standing] = Thing(standing, cap, self.tolerance)
        return self._things[standing]


def _piece_key(piece: Piece) -> bytes:
    """Return all that decides answers about a piece, but for how its link moves."""
    return f"{piece.link} {piece.mesh.digest} ".encode()


class FastMove:
    """Pairs on one move."""

    def __init__(self, engine: FastEngine, track: MoveTrack) -> None:
        self._engine, self._track = engine, track

    def closest(self, piece: Piece, standing: Standing, window: Span) -> Clearance:
        """Return the clearance interval of a pair over ``window``."""
        return self._engine.closest_of([Question(self._track, piece, standing, window)])[0]

    def spans_below(
        self, piece: Piece, standing: Standing, window: Span, threshold: float
    ) -> tuple[Span, ...]:
        """Return when the pair may be closer than ``threshold``, m; 0 asks for contact."""
        engine = self._engine
        part = engine.chains.stretch(self._track, piece, standing, window)
        trees, counts = piece_trees([piece], engine.memory), np.zeros(3, np.int64)
        body = engine.memory.box_tree(standing.source)
        limit = threshold + PATH_ERROR
        times = ask_spans(body, to_body(standing), piece, part, trees, limit, counts)
        engine.counts += counts
        ends = np.minimum(times + part.start, window.end)
        return joined_spans([Span(float(a), float(b)) for a, b in ends])

    def rounds(self, piece: Piece, standing: Standing, corner: Corner) -> Clearance:
        """Return the clearance interval of a pair over all ways of rounding ``corner``."""
        return self._engine.reference.on(self._track).rounds(piece, standing, corner)


def measure_group(
    body: BoxTree,
    to_body: Array,
    trees: PieceTrees,
    whole: Joined,
    jobs: Jobs,
    asked: Asked,
    counts: Whole,
) -> Array:
    """Answer questions about one body by the kernels, ``(n, RESULT)``; ``jobs (n, ...)``."""
    results = np.zeros((len(jobs.rows), entry.RESULT))
    results[:, entry.UPPER] = np.inf
    search.closest_of_all(
        body, trees.tree, whole.links.chain, whole.motion, *jobs, to_body,
        asked.tolerance, np.full(len(results), asked.cap), results, new_desk(counts),
    )  # fmt: skip
    return results


def ask_spans(
    body: BoxTree,
    to_body: Array,
    piece: Piece,
    part: Stretched,
    trees: PieceTrees,
    limit: float,
    counts: Whole,
) -> Array:
    """Return when a pair may be below ``limit``, m: ``(n, 2)`` s from the stretch's start."""
    whole = joined([part])
    rows, references = whole.jobs({piece: trees.root[piece]})
    times: Array = spans_below(
        body, trees.tree, part.links.chain, whole.motion, rows[0], references[0], to_body,
        limit, _SPAN_TRAVEL, new_desk(counts),
    )  # fmt: skip
    return times


def _work_through(
    groups: list[Group],
    measure: Callable[[Group], None],
    threads: int,
    answered: Answered | None,
) -> None:
    """Measure groups, several at once: the kernels let go of the interpreter's lock."""
    total = max(len(groups), 1)
    if threads < 2 or len(groups) < 2:
        for done, group in enumerate(groups):
            measure(group)
            if answered is not None:
                answered((done + 1) / total)
        return
    with ThreadPoolExecutor(threads) as pool:
        try:
            for done, _ in enumerate(pool.map(measure, groups)):
                if answered is not None:
                    answered((done + 1) / total)
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
