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
    (k, RESULT)``: none before it is done; times count from each stretch's start.
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

    def run(self) -> None:
        """Answer the questions; what may lie within what is only marked."""
        self.results = measure_group(
            self.body,
            self.to_body,
            self.trees,
            self.whole,
            self.jobs,
            self.thing.asked,
            self.counts,
        )

    def answers(self, batch: Batch, memory: Memory) -> Array:
        """Return what was found, ``(k, RESULT)``, now with what does lie within what."""
        assert self.results is not None  # noqa: S101 - asked for only when it is done
        marked = np.flatnonzero(self.results[:, entry.INSIDE] > 0)
        if len(marked):
            pieces = [batch.questions[i].piece for i in self.asked[marked].tolist()]
            poses = self.whole.start_poses(self.jobs, marked)
            self.results[marked, entry.INSIDE] = self.thing.lies_within(pieces, poses, memory)
        return self.results
