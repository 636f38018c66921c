"""What one chain carries on the stretches that have to be measured, ready for the kernels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.clearance.fast.batch import Batch
from pathsim.clearance.fast.joined import Jobs, Joined, joined
from pathsim.clearance.fast.records import Whole
from pathsim.clearance.fast.scene import PieceTrees


@dataclass(frozen=True, eq=False)
class Carried:
    """Trees of pieces, stretches behind each other, and the jobs of each piece on each of them.

    ``row (parts,)``, ``column (pairs,)``: where a stretch and a pair of the batch stand in
    ``all_jobs``; beyond its end for those that are not asked about, so that they raise.
    """

    trees: PieceTrees
    whole: Joined
    all_jobs: Jobs
    row: Whole
    column: Whole

    @classmethod
    def of(cls, batch: Batch, asked: Whole, trees: PieceTrees) -> Carried:
        """Make ready the stretches of the questions ``asked (k,)``, all of one chain."""
        parts, pairs = np.unique(batch.part[asked]), np.unique(batch.pair[asked])
        pieces = dict.fromkeys(batch.pairs[pair][0] for pair in pairs.tolist())
        courses = [batch.parts[part].course for part in parts.tolist()]
        whole = joined(courses, {piece.link for piece in pieces})
        row = np.full(len(batch.parts), len(parts))
        row[parts] = np.arange(len(parts))
        places = {piece: k for k, piece in enumerate(pieces)}
        column = np.full(len(batch.pairs), len(places))
        column[pairs] = [places[batch.pairs[pair][0]] for pair in pairs.tolist()]
        jobs = whole.jobs({piece: trees.root[piece] for piece in pieces})
        return cls(trees, whole, jobs, row, column)

    def jobs(self, batch: Batch, asked: Whole) -> Jobs:
        """Jobs ``(k, ...)`` of the questions ``asked (k,)``."""
        at = self.row[batch.part[asked]], self.column[batch.pair[asked]]
        return Jobs(self.all_jobs.rows[at], self.all_jobs.references[at])
