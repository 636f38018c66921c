"""A stretch of a move made ready for the kernels: knots, poses and time trees of its links."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.clearance.engine import Span
from pathsim.clearance.fast import motion as kernels
from pathsim.clearance.fast.records import Chain, Motion
from pathsim.clearance.rules import Standing
from pathsim.model import Piece
from pathsim.model.linkage import Linkage
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, inverse


@dataclass(frozen=True, eq=False)
class Links:
    """The links of a linkage that carry pieces, and what the kernels must know of them.

    ``own (l,)``: numbers in the chain, from 1; ``levers (l, k)``: the longest of all pieces on
    each link; ``references (l, 3)``: the middle of its pieces, in the link's frame.
    """

    linkage: Linkage
    chain: Chain
    own: np.ndarray
    levers: Array
    references: Array

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
        return cls(linkage, chain, own, np.array(levers), np.array(references))

    @cached_property
    def digest(self) -> bytes:
        """Hash over all that decides how the links move."""
        digest = hashlib.blake2b(digest_size=20)
        for array in (*self.chain, self.own, self.levers, self.references):
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


@dataclass(frozen=True, eq=False)
class Stretched:
    """One stretch for the kernels. ``start`` s: its times count from there.

    ``chain``: name of the linkage that carries its pieces (``linkage_name``).
    """

    chain: str
    links: Links
    motion: Motion
    start: float
    key: bytes

    @property
    def knots(self) -> int:
        """How many knots it has."""
        return len(self.motion.times)


def stretch_knots(track: MoveTrack, window: Span, linkage: Linkage) -> tuple[Array, Array]:
    """Joints ``(n, k)`` and times ``(n,)`` from the window's start, its two ends included.

    At least two knots: what stands still stays for a moment that nobody uses.
    """
    t, q = track.t, track.q
    if window != (t[0], t[-1]):
        # A move's own ends are knots: only elsewhere joints have to be interpolated.
        ends = track.q_at(window)
        inside = slice(np.searchsorted(t, window.start, "right"), np.searchsorted(t, window.end))
        t = np.concatenate([[window.start], t[inside], [window.end]])
        q = np.concatenate([ends[:1], q[inside], ends[1:]])
    q, times = linkage.joints(q), t - window.start
    if not times[-1] > 0:
        return np.repeat(q[:1], 2, axis=0), np.array([0.0, 1.0])
    # A window may end so close to a knot that subtraction makes the two one.
    keep = np.concatenate([[True], times[1:] > times[:-1]])
    if not keep.all():
        if not keep[-1]:
            keep[-2:] = False, True
        q, times = q[keep], times[keep]
    return np.ascontiguousarray(q), times


def stretch_key(links: Links, q: Array, times: Array) -> bytes:
    """Hash over how the links move; times only as fine as results tell them."""
    digest = hashlib.blake2b(links.digest, digest_size=20)
    digest.update(q.data)
    digest.update(np.round(times, 7).data)
    return digest.digest()


def stretched(
    chain: str, links: Links, q: Array, times: Array, start: float, key: bytes
) -> Stretched:
    """Lay out poses and time trees of all links on a stretch of knots."""
    n, count = len(times), len(links.own)
    nodes = 2 * n - 3
    poses, places = np.empty((count, n, 12)), np.empty((count, n, 3))
    bends, ways = np.zeros((count, n)), np.empty((count, n))
    whole = np.empty((count, nodes, 4), np.int64)
    numbers = np.zeros((count, nodes, kernels.WIDTH))
    kernels.lay_out(*links.chain, links.own, links.levers, links.references, q, times,
                    poses, places, bends, ways, whole, numbers)  # fmt: skip
    motion = Motion(
        whole.reshape(-1, 4),
        numbers.reshape(-1, kernels.WIDTH),
        poses.reshape(-1, 12),
        bends.reshape(-1),
        ways.reshape(-1),
        q,
        times,
    )
    return Stretched(chain, links, motion, start, key)
