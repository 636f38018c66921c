"""Denavit-Hartenberg rows to the chain that the rest of the arm code uses.

The chain makes every joint axis a z axis: ``T_axis[i] = T_axis[i-1] @ fixed[i] @ Rz(q[i])``.
A link frame is ``T_axis[i] @ ends[i]``, so that it is the frame of the convention used.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.errors import ArmError
from pathsim.transforms import Array, pose, rotation_about, translation

CONVENTIONS = ("standard", "modified")
_X, _Z = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])


def chain_from_rows(rows: Sequence[Sequence[float]], convention: str) -> tuple[Array, Array]:
    """Return ``fixed (dof, 4, 4)`` and ``ends (dof, 4, 4)`` from rows ``(a, alpha, d[, theta0])``.

    Lengths in m, angles in rad. "standard": ``A_i = Rz(theta) Tz(d) Tx(a) Rx(alpha)``.
    "modified": ``A_i = Rx(alpha) Tx(a) Rz(theta) Tz(d)``, where ``a`` and ``alpha`` are
    those written a(i-1), alpha(i-1) in the textbooks (Craig, Introduction to Robotics, ch. 3).
    """
    if convention not in CONVENTIONS:
        raise ArmError(f"convention must be 'standard' or 'modified', came {convention!r}")
    table = _table(rows)
    fixed, ends = [], []
    carried = np.eye(4)
    for a, alpha, d, theta0 in table:
        offset = pose(rotation_about(_Z, theta0), np.zeros(3))
        turn = pose(rotation_about(_X, alpha), np.zeros(3))
        if convention == "standard":
            fixed.append(carried @ offset)
            carried = translation([a, 0.0, d]) @ turn
            ends.append(carried)
        else:
            fixed.append(turn @ translation([a, 0.0, d]) @ offset)
            ends.append(np.eye(4))
    return np.array(fixed), np.array(ends)


def _table(rows: Sequence[Sequence[float]]) -> Array:
    """Return rows as (dof, 4), checked one by one so that the message names the row."""
    if len(rows) == 0:
        raise ArmError("an arm needs at least one Denavit-Hartenberg row")
    table = np.zeros((len(rows), 4))
    for index, row in enumerate(rows):
        values = np.asarray(row, dtype=np.float64)
        if values.shape not in ((3,), (4,)):
            raise ArmError(
                f"row {index + 1} must be (a, alpha, d) or (a, alpha, d, theta0), "
                f"came shape {values.shape}"
            )
        if not np.isfinite(values).all():
            raise ArmError(f"row {index + 1} holds numbers that are not finite: {list(values)}")
        table[index, : len(values)] = values
    return table
