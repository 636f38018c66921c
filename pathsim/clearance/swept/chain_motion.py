"""The motion of a chain over a window of a move: knots, link poses, the motion BVH of each link."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.relative_chain import ChainId
from pathsim.clearance.swept import motion_bound as kernels
from pathsim.clearance.swept.course_kernel import lay_out
from pathsim.clearance.swept.records import Chain
from pathsim.clearance.swept.window_knots import JointLine
from pathsim.each_once import each_once
from pathsim.errors import CannotCheck
from pathsim.model import Piece
from pathsim.model.linkage import Linkage
from pathsim.transforms import Array, IntArray, inverse


@dataclass(frozen=True, eq=False)
class CarryingLinks:
    """The links of a linkage that carry pieces, and what the kernels must know of them.

    ``own (l,)``: numbers in the chain, from 1; ``levers (l, k)``: the longest of all pieces on
    each link; ``references (l, 3)``: the middle of its pieces, in the link's frame.
    ``carrying (p,)``: which of the links carries each piece; ``centres``, ``halves`` ``(p, 3)``:
    its box in the link's frame.
    """

    linkage: Linkage
    chain: Chain
    own: np.ndarray
    levers: Array
    references: Array
    carrying: np.ndarray
    centres: Array
    halves: Array

    @classmethod
    def of(cls, linkage: Linkage, pieces: Sequence[Piece], stroke: Array) -> CarryingLinks:
        """Make a linkage ready that carries ``pieces``; ``stroke (axes,)`` as ``Axes.stroke``."""
        own = each_once(np.array([piece.link - linkage.skip for piece in pieces], np.int64))
        levers, references = [], []
        for link in own:
            carried = [piece for piece in pieces if piece.link - linkage.skip == link]
            each = [linkage.levers(p.link, p.mesh, stroke) for p in carried]
            levers.append(np.max(each, axis=0))
            corners = np.concatenate([piece.mesh.corners for piece in carried])
            references.append((corners.min(axis=0) + corners.max(axis=0)) / 2)
        chain = Chain(rows_of(linkage.fixed), rows_of(linkage.ends), np.array(linkage.prismatic))
        carrying = np.searchsorted(own, [piece.link - linkage.skip for piece in pieces])
        corners = np.array([piece.mesh.corners for piece in pieces])
        low, high = corners.min(axis=1), corners.max(axis=1)
        return cls(linkage, chain, own, np.array(levers), np.array(references),
                   carrying.astype(np.int64), (low + high) / 2, (high - low) / 2)  # fmt: skip

    @cached_property
    def digest(self) -> bytes:
        """Hash over all that decides how the links move."""
        digest = hashlib.blake2b(digest_size=20)
        arrays = (self.own, self.levers, self.references, self.carrying, self.centres, self.halves)
        for array in (*self.chain, *arrays):
            digest.update(np.ascontiguousarray(array).data)
        digest.update(repr((self.linkage.columns, tuple(self.linkage.signs))).encode())
        return digest.digest()

    @cached_property
    def rows(self) -> dict[int, tuple[int, int, Array]]:
        """For each link of the cell its row, its number in the chain and its reference."""
        return {
            int(own) + self.linkage.skip: (k, int(own), self.references[k])
            for k, own in enumerate(self.own)
        }


def carrying_links_key(
    linkage: Linkage, pieces: Sequence[Piece], stroke: Array
) -> tuple[object, ...]:
    """Return everything that decides what ``CarryingLinks.of`` makes."""
    carried = tuple((piece.link, piece.mesh.digest) for piece in pieces)
    return (*linkage.content, stroke.tobytes(), carried)


def rows_of(T: Array) -> Array:
    """Poses ``(..., 4, 4)`` as rows ``(..., 12)`` of ``[R | p]``."""
    # A copy: arrays that may not be written to would be another type to the compiler.
    return np.array(T[..., :3, :].reshape(*T.shape[:-2], 12), dtype=float, order="C")


def to_body(standing: Obstacle) -> Array:
    """Return the pose ``(1, 12)`` that takes the chain's frame to the body's own."""
    return rows_of(inverse(standing.T_ref_mesh)[None])


@dataclass(frozen=True, eq=False)
class ChainMotion:
    """How links go: ``q (n, k)`` at ``times (n,)`` from 0, ``poses (l, n, 12)``.

    ``bends``, ``ways`` ``(l, n)`` as in ``course_kernel.lay_out``; ``reach (p, 6)``: boxes in the
    chain's frame that hold all that each piece passes through. Time trees are grown for those
    links alone that something comes near to.
    """

    links: CarryingLinks
    q: Array
    times: Array
    poses: Array
    bends: Array
    ways: Array
    reach: Array
    _trees: dict[int, tuple[IntArray, Array]] = field(default_factory=dict)

    @classmethod
    def of(cls, links: CarryingLinks, q: Array, times: Array) -> ChainMotion:
        """Lay out the poses of all links at knots."""
        n, count = len(times), len(links.own)
        poses, bends, ways = np.empty((count, n, 12)), np.empty((count, n)), np.empty((count, n))
        reach = np.empty((len(links.carrying), 6))
        # The largest of several numbers passes over what is not a number: that would read as clear.
        if not lay_out(*links.chain, links.own, links.levers, links.carrying, links.centres,
                       links.halves, q, poses, bends, ways, reach):  # fmt: skip
            raise CannotCheck("the motion of a link, or the bound on it, is not a number")
        return cls(links, q, times, poses, bends, ways, reach)

    def grow(self, rows: Iterable[int]) -> None:
        """Grow the time trees of these links (rows of ``poses``), where they are not yet."""
        missing = sorted(set(rows) - self._trees.keys())
        if not missing:
            return
        nodes = 2 * len(self.times) - 3
        whole = np.empty((len(missing), nodes, 4), np.int64)
        numbers = np.zeros((len(missing), nodes, kernels.WIDTH))
        kernels.grow_trees(np.array(missing), self.links.references, self.times, self.poses,
                           self.bends, whole, numbers)  # fmt: skip
        self._trees.update(zip(missing, zip(whole, numbers, strict=True), strict=True))

    def tree(self, row: int) -> tuple[IntArray, Array]:
        """Return the time tree of a link, which has to be grown: whole numbers and numbers."""
        return self._trees[row]


@dataclass(frozen=True, eq=False)
class MoveWindow:
    """One stretch for the kernels. ``start`` s: its times count from there (``real``).

    ``chain``: name of the linkage that carries its pieces (``chain_id``).
    """

    chain: ChainId
    course: ChainMotion
    start: float
    key: bytes
    line: JointLine | None = None

    def real(self, times: Array) -> Array:
        """Return times ``(n,)`` that kernels tell as they are on the move, s from its start."""
        return times if self.line is None else self.line.real(times)

    @property
    def knots(self) -> int:
        """How many knots it has."""
        return len(self.course.times)


def window_key(links: CarryingLinks, q: Array, times: Array) -> bytes:
    """Hash over how the links move; times only as fine as results tell them."""
    digest = hashlib.blake2b(links.digest, digest_size=20)
    digest.update(q.data)
    digest.update(times.round(7).data)
    return digest.digest()
