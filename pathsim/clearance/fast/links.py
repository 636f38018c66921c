"""The links of a chain that carry pieces, as the kernels know them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.clearance.fast.records import Chain
from pathsim.clearance.rules import Standing
from pathsim.model import Piece
from pathsim.model.linkage import Linkage
from pathsim.transforms import Array, inverse


@dataclass(frozen=True, eq=False)
class Links:
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
    def of(cls, linkage: Linkage, pieces: Sequence[Piece], stroke: Array) -> Links:
        """Make a linkage ready that carries ``pieces``; ``stroke (axes,)`` as ``Axes.stroke``."""
        own = np.unique([piece.link - linkage.skip for piece in pieces]).astype(np.int64)
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


def links_key(linkage: Linkage, pieces: Sequence[Piece], stroke: Array) -> tuple[object, ...]:
    """Return everything that decides what ``Links.of`` makes."""
    arrays = (linkage.fixed, linkage.ends, linkage.prismatic, linkage.signs, stroke)
    carried = tuple((piece.link, piece.mesh.digest) for piece in pieces)
    return (*(array.tobytes() for array in arrays), linkage.columns, linkage.skip, carried)


def rows_of(T: Array) -> Array:
    """Poses ``(..., 4, 4)`` as rows ``(..., 12)`` of ``[R | p]``."""
    # A copy: arrays that may not be written to would be another type to the compiler.
    return np.array(T[..., :3, :].reshape(*T.shape[:-2], 12), dtype=float, order="C")


def to_body(standing: Standing) -> Array:
    """Return the pose ``(1, 12)`` that takes the chain's frame to the body's own."""
    return rows_of(inverse(standing.T_world_source)[None])
