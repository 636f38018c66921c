"""What the kernels are asked: one call for all pairs with a body, one for when a pair is near."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.fast import entry, search
from pathsim.clearance.fast.joined import Jobs, Joined, joined
from pathsim.clearance.fast.leaf import new_desk
from pathsim.clearance.fast.records import Asked, BoxTree, Whole
from pathsim.clearance.fast.scene import PieceTrees
from pathsim.clearance.fast.spans import spans_below
from pathsim.clearance.fast.stretch import Stretched
from pathsim.model import Piece
from pathsim.transforms import Array

#: A piece travels at most this far in the shortest span told apart, m.
_SPAN_TRAVEL = 5e-4


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
    whole = joined([part.course], [piece.link])
    rows, references = whole.jobs({piece: trees.root[piece]})
    times: Array = spans_below(
        body, trees.tree, whole.links.chain, whole.motion, rows[0], references[0], to_body,
        limit, _SPAN_TRAVEL, new_desk(counts),
    )  # fmt: skip
    return times
