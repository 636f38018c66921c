"""The fast engine: the same questions as the reference engine's, answered by the kernels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from pathsim.clearance.corner import Corner
from pathsim.clearance.engine import Answered, Pair, Question, Span
from pathsim.clearance.fast import entry, search
from pathsim.clearance.fast.chains import Chains
from pathsim.clearance.fast.leaf import new_desk
from pathsim.clearance.fast.looks import FastLooks
from pathsim.clearance.fast.memory import Key, Memory
from pathsim.clearance.fast.records import Asked, BoxTree, Whole
from pathsim.clearance.fast.scene import PieceTrees, piece_trees
from pathsim.clearance.fast.spans import spans_below
from pathsim.clearance.fast.stretch import Joined, Stretched, joined, to_body
from pathsim.clearance.moving_chain import frame_of, moves_about
from pathsim.clearance.records import Clearance
from pathsim.clearance.reference import TOLERANCE, ReferenceEngine, joined_spans
from pathsim.clearance.rules import Standing
from pathsim.model import Cell, Piece
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array, apply, inverse

#: A piece travels at most this far in the shortest span told apart, m.
_SPAN_TRAVEL = 5e-4
#: All questions about one body that the same chain carries its pieces past.
Group = tuple[str, Standing]


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
        self._things: dict[Standing, Key] = {}

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
        stretches = [self.chains.stretch(*question) for question in questions]
        keys = [self._key(q, part) for q, part in zip(questions, stretches, strict=True)]
        rows = [self.memory.answers.get(key) for key in keys]
        groups: dict[Group, list[int]] = defaultdict(list)
        for i, row in enumerate(rows):
            if row is None:
                groups[stretches[i].chain, questions[i].standing].append(i)
        whole = {
            chain: joined(
                {id(stretches[i]): stretches[i] for key in groups if key[0] == chain
                 for i in groups[key]}.values()
            )
            for chain in {key[0] for key in groups}
        }  # fmt: skip
        trees = {chain: piece_trees(self.chains.pieces(chain), self.memory) for chain in whole}
        for _, standing in groups:
            self.memory.box_tree(standing.source)

        def measure(group: Group) -> None:
            chosen = groups[group]
            found = self.measure(
                group,
                [questions[i] for i in chosen],
                [stretches[i] for i in chosen],
                whole[group[0]],
                trees[group[0]],
            )
            for i, row in zip(chosen, found, strict=True):
                rows[i] = row
            self.memory.keep([keys[i] for i in chosen], found)

        _work_through(list(groups), measure, self.threads, answered)
        return self._clearances(questions, stretches, np.array(rows).reshape(-1, entry.RESULT))

    def measure(
        self,
        group: Group,
        questions: Sequence[Question],
        stretches: Sequence[Stretched],
        whole: Joined,
        trees: PieceTrees,
    ) -> Array:
        """Answer questions about one body, ``(n, RESULT)``; times from each stretch's start."""
        standing, counts = group[1], np.zeros(3, np.int64)
        asked = Asked(self.tolerance, self.reference.cap_for(standing) + PATH_ERROR)
        body = self.memory.box_tree(standing.source)
        results = measure_group(body, standing, questions, stretches, whole, trees, asked, counts)
        self.counts += counts
        for i in np.flatnonzero(results[:, entry.INSIDE] > 0).tolist():
            results[i, entry.INSIDE] = self._starts_inside(questions[i], stretches[i])
        return results

    def _starts_inside(self, question: Question, part: Stretched) -> bool:
        piece, standing = question.piece, question.standing
        T = inverse(standing.T_world_source) @ part.start_pose(piece.link)
        body, moving = self.memory.solid(standing.source), self.memory.solid(piece.mesh)
        # Boxes first: mostly they settle it.
        if body.may_hold(T, moving.witnesses, back=False) and body.holds(
            apply(T, moving.witnesses)
        ):
            return True
        return moving.may_hold(T, body.witnesses, back=True) and moving.holds(
            apply(inverse(T), body.witnesses)
        )

    def _key(self, question: Question, part: Stretched) -> Key:
        """Return everything that decides an answer."""
        piece, standing = question.piece, question.standing
        if standing not in self._things:
            cap = self.reference.cap_for(standing)
            place = standing.T_world_source.tobytes()
            self._things[standing] = (standing.source.digest, place, self.tolerance, cap)
        return (part.key, piece.link, piece.mesh.digest, self._things[standing])

    def _clearances(
        self, questions: Sequence[Question], parts: Sequence[Stretched], rows: Array
    ) -> list[Clearance]:
        """Return rows of results ``(n, RESULT)`` as clearances in the world."""
        caps = np.array([self._things[q.standing][3] for q in questions], dtype=float)
        is_far = np.isinf(rows[:, entry.UPPER]) & (rows[:, entry.LOWER] - PATH_ERROR >= caps)
        is_far &= (rows[:, entry.INSIDE] <= 0) & (rows[:, entry.CLOSED] != 0)
        # Most pairs are that far all along, and of these there is nothing else to say.
        far: dict[tuple[float, float], Clearance] = {}
        found = []
        for question, part, row, cap, beyond in zip(
            questions, parts, rows, caps.tolist(), is_far.tolist(), strict=True
        ):
            if beyond:
                start = question.window.start
                if (start, cap) not in far:
                    far[start, cap] = Clearance(cap, np.inf, start, None, None, is_capped=True)
                found.append(far[start, cap])
            else:
                found.append(self._clearance(question, part, row))
        return found

    def _clearance(self, question: Question, part: Stretched, row: Array) -> Clearance:
        """Return a row of results as a clearance in the world."""
        if row[entry.INSIDE] > 0:
            start = question.window.start
            return Clearance(0.0, 0.0, start, None, None, is_inside=True)
        standing, cap = question.standing, self.reference.cap_for(question.standing)
        lower, upper = float(row[entry.LOWER]) - PATH_ERROR, float(row[entry.UPPER])
        time, on_moving, on_standing = question.window.start, None, None
        if np.isfinite(upper):
            # The stretch may stand still for a moment that nobody uses.
            time = min(part.start + float(row[entry.TIME]), question.window.end)
            points = row[entry.ON_MOVING : entry.ON_STANDING + 3].reshape(2, 3)
            T = standing.T_world_source
            if moves_about(standing):
                T = frame_of(self.cell, standing, question.track.q_at(time)[0]) @ T
            points = apply(T, points)
            on_moving, on_standing = points
        return Clearance(
            lower=min(max(lower, 0.0), cap),
            upper=upper,
            time=time,
            on_moving=on_moving,
            on_standing=on_standing,
            is_capped=lower >= cap - self.tolerance and upper > cap,
            is_wide=bool(row[entry.CLOSED] == 0),
        )


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
        question = Question(self._track, piece, standing, window)
        part = engine.chains.stretch(*question)
        trees, counts = piece_trees([piece], engine.memory), np.zeros(3, np.int64)
        body = engine.memory.box_tree(standing.source)
        limit = threshold + PATH_ERROR
        times = ask_spans(body, standing, question, part, trees, limit, counts)
        engine.counts += counts
        ends = np.minimum(times + part.start, window.end)
        return joined_spans([Span(float(a), float(b)) for a, b in ends])

    def rounds(self, piece: Piece, standing: Standing, corner: Corner) -> Clearance:
        """Return the clearance interval of a pair over all ways of rounding ``corner``."""
        return self._engine.reference.on(self._track).rounds(piece, standing, corner)


def measure_group(
    body: BoxTree,
    standing: Standing,
    questions: Sequence[Question],
    stretches: Sequence[Stretched],
    whole: Joined,
    trees: PieceTrees,
    asked: Asked,
    counts: Whole,
) -> Array:
    """Answer questions about one body by the kernels, ``(n, RESULT)``."""
    jobs, references = whole.jobs(questions, stretches, trees.root)
    results = np.zeros((len(questions), entry.RESULT))
    results[:, entry.UPPER] = np.inf
    chain = whole.parts[0].links.chain
    search.closest_of_all(
        body, trees.tree, chain, whole.motion, jobs, references, to_body(standing),
        asked.tolerance, np.full(len(questions), asked.cap), results, new_desk(counts),
    )  # fmt: skip
    return results


def ask_spans(
    body: BoxTree,
    standing: Standing,
    question: Question,
    part: Stretched,
    trees: PieceTrees,
    limit: float,
    counts: Whole,
) -> Array:
    """Return when a pair may be below ``limit``, m: ``(n, 2)`` s from the stretch's start."""
    whole = joined([part])
    jobs, references = whole.jobs([question], [part], trees.root)
    times: Array = spans_below(
        body, trees.tree, part.links.chain, whole.motion, jobs, references, to_body(standing),
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
