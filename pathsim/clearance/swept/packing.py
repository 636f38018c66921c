"""Chain motions and sphere trees one behind the other in single arrays, as kernels take them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance.swept.batch import Batch
from pathsim.clearance.swept.cache import EngineCache
from pathsim.clearance.swept.chain_motion import CarryingLinks, ChainMotion
from pathsim.clearance.swept.records import Motion
from pathsim.each_once import each_once
from pathsim.geometry.bvh import SphereTree
from pathsim.geometry.bvh_split import FIRST, LEFT
from pathsim.model import Mesh, Piece
from pathsim.transforms import Array, IntArray

Number = TypeVar("Number", bound=np.generic)


class PackedJobs(NamedTuple):
    """Rows ``(..., 5)`` and references ``(..., 3)`` of jobs, as ``records.Job`` has them."""

    rows: IntArray
    references: Array


@dataclass(frozen=True, eq=False)
class PackedMotion:
    """Several courses of one linkage behind each other, and where each begins.

    ``first (s, 3)``: row of its nodes, of its poses and of its knots; ``knots (s,)``: how many it
    has. ``links``: those of any of them, as they differ in their levers alone. ``place``: which
    links are in it, by their rows, and in which place.
    """

    motion: Motion
    links: CarryingLinks
    place: Mapping[int, int]
    first: IntArray
    knots: IntArray

    def jobs(self, root: Mapping[Piece, int]) -> PackedJobs:
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
        return PackedJobs(rows, np.repeat(references[None], len(knots), axis=0))

    def start_poses(self, jobs: PackedJobs, which: IntArray) -> Array:
        """Where the links of jobs are when their stretch begins: of the jobs ``which (k,)``.

        Poses ``(k, 12)``: that of the first knot is the first of a stretch's.
        """
        poses: Array = self.motion.poses[jobs.rows[which, 2]]
        return poses


def pack_motion(courses: Sequence[ChainMotion], links: Iterable[int]) -> PackedMotion:
    """Put courses of one linkage behind each other: of those ``links`` of the cell alone."""
    all_rows = courses[0].links.rows
    rows = sorted({all_rows[link][0] for link in links})
    for course in courses:
        course.grow(rows)
    trees = [course.tree(row) for course in courses for row in rows]
    motion = Motion(
        _behind([whole for whole, _ in trees]),
        _behind([numbers for _, numbers in trees]),
        _behind([course.poses[row] for course in courses for row in rows]),
        _behind([course.bends[row] for course in courses for row in rows]),
        _behind([course.ways[row] for course in courses for row in rows]),
        _behind([course.q for course in courses]),
        _behind([course.times for course in courses]),
    )
    knots = np.array([len(course.times) for course in courses])
    sizes = np.stack([len(rows) * (2 * knots - 3), len(rows) * knots, knots], axis=1)
    first = np.concatenate([np.zeros((1, 3), np.int64), np.cumsum(sizes, axis=0)[:-1]])
    place = {row: k for k, row in enumerate(rows)}
    return PackedMotion(motion, courses[0].links, place, first, knots)


def _behind(arrays: list[NDArray[Number]]) -> NDArray[Number]:
    """Return arrays one behind the other; a single one, as intervals ask for, as it is."""
    return arrays[0] if len(arrays) == 1 else np.concatenate(arrays)


@dataclass(frozen=True, eq=False)
class PieceTrees:
    """All spheres; ``root`` is the first row of each piece."""

    tree: SphereTree
    root: dict[Piece, int]


def piece_trees(pieces: Sequence[Piece], memory: EngineCache) -> PieceTrees:
    """Put the sphere trees of pieces behind each other."""
    meshes = [piece.mesh for piece in pieces]
    tree, first = memory.behind_each_other(meshes, lambda: _behind_each_other(meshes, memory))
    return PieceTrees(tree, dict(zip(pieces, first, strict=True)))


def _behind_each_other(meshes: Sequence[Mesh], memory: EngineCache) -> tuple[SphereTree, list[int]]:
    """One tree of all spheres, and the first row of each mesh's."""
    first, parts, node, triangle = [], [], 0, 0
    for tree in map(memory.sphere_tree, meshes):
        first.append(node)
        links = tree.links.copy()
        links[:, :FIRST] = np.where(links[:, :FIRST] < 0, -1, links[:, :FIRST] + node)
        links[:, FIRST] += triangle
        parts.append(SphereTree(tree.sphere, tree.obb, links, tree.triangles))
        node, triangle = node + len(links), triangle + len(tree.triangles)
    columns = [np.concatenate(arrays) for arrays in zip(*parts, strict=True)]
    return SphereTree(*columns), first


assert (LEFT, FIRST) == (0, 2)  # noqa: S101 - children stand before the triangles


@dataclass(frozen=True, eq=False)
class PackedPieces:
    """Trees of pieces, stretches behind each other, and the jobs of each piece on each of them.

    ``row (parts,)``, ``column (pairs,)``: where a stretch and a pair of the batch stand in
    ``all_jobs``; beyond its end for those that are not asked about, so that they raise.
    """

    trees: PieceTrees
    whole: PackedMotion
    all_jobs: PackedJobs
    row: IntArray
    column: IntArray

    @classmethod
    def of(cls, batch: Batch, asked: IntArray, trees: PieceTrees) -> PackedPieces:
        """Make ready the stretches of the questions ``asked (k,)``, all of one chain."""
        parts, pairs = each_once(batch.part[asked]), each_once(batch.pair[asked])
        pieces = dict.fromkeys(batch.pairs[pair][0] for pair in pairs.tolist())
        courses = [batch.parts[part].course for part in parts.tolist()]
        whole = pack_motion(courses, {piece.link for piece in pieces})
        row = np.full(len(batch.parts), len(parts))
        row[parts] = np.arange(len(parts))
        places = {piece: k for k, piece in enumerate(pieces)}
        column = np.full(len(batch.pairs), len(places))
        column[pairs] = [places[batch.pairs[pair][0]] for pair in pairs.tolist()]
        jobs = whole.jobs({piece: trees.root[piece] for piece in pieces})
        return cls(trees, whole, jobs, row, column)

    def jobs(self, batch: Batch, asked: IntArray) -> PackedJobs:
        """Jobs ``(k, ...)`` of the questions ``asked (k,)``."""
        at = self.row[batch.part[asked]], self.column[batch.pair[asked]]
        return PackedJobs(self.all_jobs.rows[at], self.all_jobs.references[at])
