"""What stands, as the fast engine asks about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.clearance.fast.inside import FastSolid
from pathsim.clearance.fast.links import rows_of
from pathsim.clearance.fast.memory import Memory
from pathsim.clearance.fast.records import Asked
from pathsim.clearance.rules import Standing
from pathsim.model import Piece
from pathsim.motion import PATH_ERROR
from pathsim.transforms import Array, Flags, apply, inverse


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

    def lies_within(self, pieces: Sequence[Piece], poses: Array, memory: Memory) -> Flags:
        """Tell of each piece whether it lies wholly inside, or this inside the piece ``(k,)``.

        ``poses (k, 12)``: where the link of each piece is.
        """
        links = np.zeros((len(poses), 4, 4))
        links[:, :3], links[:, 3, 3] = poses.reshape(-1, 3, 4), 1.0
        body = memory.solid(self.standing.source)
        return np.array([
            _is_one_within(memory.solid(piece.mesh), body, T)
            for piece, T in zip(pieces, self.to_source @ links, strict=True)
        ])  # fmt: skip


def _is_one_within(moving: FastSolid, body: FastSolid, T: Array) -> bool:
    """Tell whether one lies within the other; ``T (4, 4)`` takes the piece to the body's frame."""
    # Boxes first: mostly they settle it.
    if body.may_hold(T, moving.witnesses, back=False) and body.holds(apply(T, moving.witnesses)):
        return True
    return moving.may_hold(T, body.witnesses, back=True) and moving.holds(
        apply(inverse(T), body.witnesses)
    )
