"""How far from each joint's axis a point of the arm can ever be."""

from __future__ import annotations

import numpy as np

from pathsim.arm import Arm
from pathsim.model.cell import Cell, Piece
from pathsim.transforms import Array, apply


def levers(arm: Arm, piece: Piece) -> Array:
    """Upper bound ``(dof,)`` of the distance from axis k to any point of the piece, m.

    Holds for every joint vector: the distance is at most the sum of the fixed offsets
    between the two, and for the piece's own axis the part square to that axis. Zero for
    joints that do not carry the piece.
    """
    lever = np.zeros(arm.dof)
    own = piece.link - 1
    corners = apply(arm.ends[own], piece.mesh.corners)
    lever[own] = np.hypot(corners[:, 0], corners[:, 1]).max()
    length = np.linalg.norm(corners, axis=-1).max()
    for k in range(own - 1, -1, -1):
        length += np.linalg.norm(arm.fixed[k + 1][:3, 3])
        lever[k] = length
    return lever


def longest_levers(cell: Cell) -> Array:
    """For each joint the longest lever of all that it carries, tip included; ``(dof,)`` m."""
    rows = [levers(cell.arm, piece) for piece in cell.pieces]
    return np.asarray(np.max(rows, axis=0))
