"""Stretches behind each other as one array for the kernels, and the jobs of pieces on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pathsim.clearance.fast.records import Motion, Whole
from pathsim.clearance.fast.stretch import Links, Stretched
from pathsim.model import Piece
from pathsim.transforms import Array


class Jobs(NamedTuple):
    """Rows ``(..., 5)`` and references ``(..., 3)`` of jobs, as ``records.Job`` has them."""

    rows: Whole
    references: Array


@dataclass(frozen=True, eq=False)
class Joined:
    """Several stretches of one linkage behind each other, and where each begins.

    ``first (s, 3)``: row of its nodes, of its poses and of its knots; ``knots (s,)``: how many it
    has. ``links``: those of any of them, as they differ in their levers alone.
    """

    motion: Motion
    links: Links
    first: Whole
    knots: Whole

    def jobs(self, root: Mapping[Piece, int]) -> Jobs:
        """Jobs ``(s, pieces, ...)`` of all stretches, pieces in the order of ``root``.

        ``root``: the first sphere of each. They are the same for everything that pieces go past.
        """
        links = [self.links.rows[piece.link] for piece in root]
        row, own = np.array([link[:2] for link in links]).T
        knots, (node, pose, knot) = self.knots[:, None], self.first.T[:, :, None]
        rows = np.empty((len(knots), len(links), 5), np.int64)
        rows[..., 0] = list(root.values())
        rows[..., 1] = node + row * (2 * knots - 3)
        rows[..., 2] = pose + row * knots
        rows[..., 3] = knot
        rows[..., 4] = own
        references = np.array([link[2] for link in links])
        return Jobs(rows, np.repeat(references[None], len(knots), axis=0))

    def start_poses(self, jobs: Jobs, which: Whole) -> Array:
        """Where the links of jobs are when their stretch begins: of the jobs ``which (k,)``.

        Poses ``(k, 12)``: that of the first knot is the first of a stretch's.
        """
        poses: Array = self.motion.poses[jobs.rows[which, 2]]
        return poses


def joined(parts: Sequence[Stretched]) -> Joined:
    """Put stretches of one linkage behind each other."""
    sizes = np.array([[len(p.motion.whole), len(p.motion.poses), p.knots] for p in parts])
    first = np.concatenate([np.zeros((1, 3), np.int64), np.cumsum(sizes, axis=0)[:-1]])
    columns = [np.concatenate(arrays) for arrays in zip(*(p.motion for p in parts), strict=True)]
    return Joined(Motion(*columns), parts[0].links, first, sizes[:, 2])
