"""What stands, as the fast engine asks about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.clearance.fast.inside import FastSolid
from pathsim.clearance.fast.links import rows_of
from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.fast.records import Asked, Whole
from pathsim.clearance.records import Inner
from pathsim.clearance.rules import Standing
from pathsim.model import Piece
from pathsim.motion import PATH_ERROR
from pathsim.transforms import Array, apply, inverse

#: Numbers in rows of results: which of a pair lies within the other.
INNER = (None, Inner.MOVING, Inner.STANDING)


@dataclass(frozen=True, eq=False)
class Thing:
    """Something that stands, how far from it pieces are told apart, and how finely, both m."""

    standing: Standing
    cap: float
    tolerance: float

    @cached_property
    def key(self) -> bytes:
        """All that decides answers about it."""
        place = np.asarray(self.standing.T_world_source, float)
        asked = np.array([self.tolerance, self.cap])
        return self.standing.source.digest.encode() + place.tobytes() + asked.tobytes()

    @property
    def asked(self) -> Asked:
        """What kernels are asked for."""
        return Asked(self.tolerance, self.cap + PATH_ERROR)

    @cached_property
    def to_source(self) -> Array:
        """Pose ``(4, 4)`` that takes the chain's frame to its own."""
        return inverse(self.standing.T_world_source)

    @cached_property
    def to_body(self) -> Array:
        """The same for the kernels, ``(1, 12)``."""
        return rows_of(self.to_source[None])

    def inner_of(self, pieces: Sequence[Piece], poses: Array, memory: Memory) -> list[Inner | None]:
        """Tell of each piece whether it lies wholly inside, or this inside the piece.

        ``poses (k, 4, 4)``: where the link of each piece is.
        """
        body = memory.solid(self.standing.source)
        placed = zip(pieces, self.to_source @ poses, strict=True)
        return [_inner_of(memory.solid(piece.mesh), body, T) for piece, T in placed]

    def inner_numbers(self, pieces: Sequence[Piece], poses: Array, memory: Memory) -> Whole:
        """Return the same as numbers ``(k,)`` (``INNER``); ``poses (k, 12)``."""
        links = np.zeros((len(poses), 4, 4))
        links[:, :3], links[:, 3, 3] = poses.reshape(-1, 3, 4), 1.0
        return np.array([INNER.index(one) for one in self.inner_of(pieces, links, memory)])


def _inner_of(moving: FastSolid, body: FastSolid, T: Array) -> Inner | None:
    """Tell which lies within the other; ``T (4, 4)`` takes the piece to the body's frame."""
    # Boxes first: mostly they settle it.
    if body.may_hold(T, moving.witnesses, back=False) and body.holds(apply(T, moving.witnesses)):
        return Inner.MOVING
    if moving.may_hold(T, body.witnesses, back=True):
        return Inner.STANDING if moving.holds(apply(inverse(T), body.witnesses)) else None
    return None
