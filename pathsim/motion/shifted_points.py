"""The other way round: the part stands elsewhere, and the taught points of its welds do not."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from pathsim.model import Cell, Point
from pathsim.model.turning_table import StandsOn
from pathsim.motion.posture_choice import Wanted, pick
from pathsim.motion.targets import Targets
from pathsim.motion.welds import arc_points
from pathsim.transforms import Array, inverse


@dataclass(frozen=True, eq=False)
class ShiftedPoint:
    """A weld's point, and where it has to go with its part.

    ``off (3,)``: from where its tip was taught to where it belongs, m, in the world with the table
    as taught. ``q (axes,)``: joint values there, nearest to the taught ones, rad or m; None where
    the arm does not reach it. ``turn``: by how much the torch turns with it, rad.
    """

    name: str
    off: Array
    turn: float
    q: Array | None

    @property
    def distance(self) -> float:
        """How far off the taught point is, m."""
        return float(np.linalg.norm(self.off))


def shifted_points(
    cell: Cell,
    T_moved: ArrayLike,
    *,
    stands_on: StandsOn = StandsOn.FLOOR,
    names: Collection[str] | None = None,
) -> list[ShiftedPoint]:
    """Return where the points of all welds belong once their part was moved, in the cell's order.

    ``T_moved (4, 4)``: takes places of the part, in the world with the table at zero, to where they
    are now; ``stands_on``: what the part stands on. ``names``: of these points instead.
    """
    wanted = arc_points(cell) if names is None else names
    targets, T_move = Targets(cell), np.asarray(T_moved, float)
    found = []
    for name, point in cell.points.items():
        if name in wanted and not point.derived:
            found.append(_shifted(cell, targets, point, T_move, stands_on=stands_on))
    return found


def _shifted(
    cell: Cell, targets: Targets, point: Point, T_moved: Array, *, stands_on: StandsOn
) -> ShiftedPoint:
    T_base_tcp = targets.tool_pose(point.name)
    near = np.zeros(cell.axes.count) if point.q is None else point.q
    held = targets.held(point.name, near)
    T_here = np.eye(4)
    if stands_on.is_carried and cell.table is not None:
        T_here = cell.table.frame_motion(stands_on, cell.table_values(held))
    # Seen in the world as the table was when it was taught.
    T_moves = T_here @ T_moved @ inverse(T_here)
    before = cell.T_world_base @ T_base_tcp
    after = T_moves @ before
    first = None if cell.arm.held is None else float(held[0])
    T_flange = inverse(cell.T_world_base) @ after @ cell.torch.T_tcp_flange
    wish = Wanted(T_flange, first, point.posture, point.about)
    taken = pick(cell.arm, cell.torch.T_flange_tcp, wish, near[: cell.arm.dof])
    q = None
    if taken is not None:
        q = np.array(taken.q if cell.table is None else (*taken.q, *cell.table_values(held)))
    turned = np.clip((np.trace(T_moved[:3, :3]) - 1) / 2, -1, 1)
    return ShiftedPoint(point.name, after[:3, 3] - before[:3, 3], float(np.arccos(turned)), q)


def with_shifted(cell: Cell, points: Collection[ShiftedPoint]) -> Cell:
    """Return the cell with points taught anew where they belong; those out of reach stay."""
    new = {one.name: Point(one.name, one.q) for one in points if one.q is not None}
    return replace(cell, points={**cell.points, **new})
