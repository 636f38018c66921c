"""How far from each joint's axis a point of the arm can ever be."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from pathsim.arm import Arm
from pathsim.transforms import Array, BoolArray, apply, frozen

if TYPE_CHECKING:
    from pathsim.geometry.mesh import Mesh
    from pathsim.model.cell import Cell
    from pathsim.model.piece import Piece


def chain_levers(
    fixed: Array, ends: Array, prismatic: BoolArray, link: int, corners: Array, stroke: Array
) -> Array:
    """Upper bound ``(dof,)`` of how far a point of a link moves for a small move of each joint.

    Per rad for a turning joint: the distance from its axis, m, which is at most the sum of
    the fixed offsets between the two, of ``stroke (dof,)`` for slides in between, and for the
    link's own axis the part square to that axis. 1 for a sliding joint. 0 for joints that do
    not carry the link. ``corners (8, 3)``: of the mesh's box, in the link frame.
    """
    lever = np.zeros(len(fixed))
    own = link - 1
    placed = apply(ends[own], corners)
    lever[own] = np.hypot(placed[:, 0], placed[:, 1]).max()
    length = np.linalg.norm(placed, axis=-1).max() + stroke[own]
    for k in range(own - 1, -1, -1):
        length += np.linalg.norm(fixed[k + 1][:3, 3])
        lever[k] = length
        length += stroke[k]
    lever[: own + 1] = np.where(prismatic[: own + 1], 1.0, lever[: own + 1])
    return lever


def levers(arm: Arm, piece: Piece, stroke: Array | None = None) -> Array:
    """Levers ``(dof,)`` of an arm's joints on a piece (``chain_levers``).

    ``stroke (dof,)`` m is how far sliding joints go; their limits when not given.
    """
    if stroke is None:
        widest = np.maximum(np.abs(arm.lower), np.abs(arm.upper))
        stroke = np.where(arm.prismatic, widest, 0.0)
    return _known_levers(arm, piece.mesh, piece.link, tuple(stroke.tolist()))


@lru_cache(maxsize=1000)
def _known_levers(arm: Arm, mesh: Mesh, link: int, stroke: tuple[float, ...]) -> Array:
    """Levers of an arm on a mesh of a link; both never change, whatever is taught."""
    found = chain_levers(arm.fixed, arm.ends, arm.prismatic, link, mesh.corners, np.array(stroke))
    return frozen(found)


def longest_levers(cell: Cell) -> Array:
    """For each axis the longest lever of all that it carries, tip included; ``(axes,)``."""
    taught = [point.q for point in cell.points.values() if point.q is not None]
    ends = [np.where(np.isfinite(e), e, 0.0) for e in (cell.axes.lower, cell.axes.upper)]
    stroke = cell.axes.stroke(np.array([*taught, *ends, np.zeros(cell.axes.count)]))
    dof = cell.arm.dof
    rows = [levers(cell.arm, piece, stroke[:dof]) for piece in cell.arm_pieces]
    longest = np.max(rows, axis=0)
    if cell.table is None:
        return np.asarray(longest)
    linkage, count = cell.table_linkage, len(cell.table.axes)
    turned = [linkage.levers(p.link, p.mesh, stroke) for p in cell.table_pieces]
    return np.append(longest, np.max(turned, axis=0, initial=0.0) if turned else np.zeros(count))
