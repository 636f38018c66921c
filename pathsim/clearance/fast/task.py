"""Questions about one body, laid out for the kernels before the first of them runs.

While kernels run, the processor's caches hold triangles: any plain code in between two of them
takes about twice as long as before the first or behind the last.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pathsim.clearance.fast import entry
from pathsim.clearance.fast.ask import measure_group
from pathsim.clearance.fast.batch import Batch
from pathsim.clearance.fast.joined import Jobs, Joined
from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.fast.records import BoxTree, Whole
from pathsim.clearance.fast.scene import PieceTrees
from pathsim.clearance.fast.thing import Thing
from pathsim.transforms import Array


@dataclass(eq=False)
class Task:
    """All questions of a batch about one body that the same chain carries its pieces past.

    ``asked (k,)``: which of the batch they are; ``jobs (k, ...)``: theirs. ``results
    (k, RESULT)``: none before it has run; times count from each stretch's start. ``marked (m,)``:
    where it has still to be told whether one lies within the other.
    """

    thing: Thing
    body: BoxTree
    to_body: Array
    trees: PieceTrees
    whole: Joined
    asked: Whole
    jobs: Jobs
    counts: Whole = field(default_factory=lambda: np.zeros(3, np.int64))
    results: Array | None = None
    marked: Whole = field(default_factory=lambda: np.zeros(0, np.int64))

    def run(self) -> None:
        """Answer the questions; where one may lie within the other is only marked."""
        results = measure_group(
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

    def tell_inside(self, batch: Batch, memory: Memory) -> None:
        """Tell whether one lies within the other where it may; it has run."""
        assert self.results is not None  # noqa: S101 - the engine lets it run first
        if len(self.marked):
            pieces = [batch.questions[i].piece for i in self.asked[self.marked].tolist()]
            poses = self.whole.start_poses(self.jobs, self.marked)
            inner = self.thing.inner_numbers(pieces, poses, memory)
            self.results[self.marked, entry.INSIDE] = inner
            self.marked = self.marked[:0]

    @property
    def told(self) -> Whole:
        """Which of its questions are wholly answered ``(m,)``: none before it has run."""
        if self.results is None:
            return np.zeros(0, np.int64)
        return np.setdiff1d(np.arange(len(self.results)), self.marked)
