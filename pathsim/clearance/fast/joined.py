"""Stretches behind each other as one array for the kernels, and the jobs of pieces on them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pathsim.clearance.fast.links import Links
from pathsim.clearance.fast.records import Motion, Whole
from pathsim.clearance.fast.stretch import Course
from pathsim.model import Piece
from pathsim.transforms import Array


class Jobs(NamedTuple):
    """Rows ``(..., 5)`` and references ``(..., 3)`` of jobs, as ``records.Job`` has them."""

    rows: Whole
    references: Array


@dataclass(frozen=True, eq=False)
class Joined:
    """Several courses of one linkage behind each other, and where each begins.

    ``first (s, 3)``: row of its nodes, of its poses and of its knots; ``knots (s,)``: how many it
    has. ``links``: those of any of them, as they differ in their levers alone. ``place``: which
    links are in it, by their rows, and in which place.
    """

    motion: Motion
    links: Links
    place: Mapping[int, int]
    first: Whole
    knots: Whole

    def jobs(self, root: Mapping[Piece, int]) -> Jobs:
        """Jobs ``(s, pieces, ...)`` of all stretches, pieces in the order of ``root``.

        ``root``: the first sphere of each. They are the same for everything that pieces go past.
        A piece on a link that is not in here raises KeyError.
        """
        links = [self.links.rows[piece.link] for piece in root]
        place = np.array([self.place[link[0]] for link in links])
        knots, (node, pose, knot) = self.knots[:, None], self.first.T[:, :, None]
        rows = np.empty((len(knots), len(links), 5), np.int64)
        rows[..., 0] = list(root.values())
        rows[..., 1] = node + place * (2 * knots - 3)
        rows[..., 2] = pose + place * knots
        rows[..., 3] = knot
        rows[..., 4] = [link[1] for link in links]
        references = np.array([link[2] for link in links])
        return Jobs(rows, np.repeat(references[None], len(knots), axis=0))

    def start_poses(self, jobs: Jobs, which: Whole) -> Array:
        """Where the links of jobs are when their stretch begins: of the jobs ``which (k,)``.

        Poses ``(k, 12)``: that of the first knot is the first of a stretch's.
        """
        poses: Array = self.motion.poses[jobs.rows[which, 2]]
        return poses


def joined(courses: Sequence[Course], links: Iterable[int]) -> Joined:
    """Put courses of one linkage behind each other: of those ``links`` of the cell alone."""
    all_rows = courses[0].links.rows
    rows = sorted({all_rows[link][0] for link in links})
    for course in courses:
        course.grow(rows)
    trees = [course.tree(row) for course in courses for row in rows]
    motion = Motion(
        np.concatenate([whole for whole, _ in trees]),
        np.concatenate([numbers for _, numbers in trees]),
        np.concatenate([course.poses[row] for course in courses for row in rows]),
        np.concatenate([course.bends[row] for course in courses for row in rows]),
        np.concatenate([course.ways[row] for course in courses for row in rows]),
        np.concatenate([course.q for course in courses]),
        np.concatenate([course.times for course in courses]),
    )
    knots = np.array([len(course.times) for course in courses])
    sizes = np.stack([len(rows) * (2 * knots - 3), len(rows) * knots, knots], axis=1)
    first = np.concatenate([np.zeros((1, 3), np.int64), np.cumsum(sizes, axis=0)[:-1]])
    place = {row: k for k, row in enumerate(rows)}
    return Joined(motion, courses[0].links, place, first, knots)
