"""Which number of a row is most likely the mistyped one, once the other rows agree."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.fit.by_inverse import solutions_of
from pathsim.fit.description import Description, Reading
from pathsim.fit.trials import CLOSE, CLOSE_TURN
from pathsim.transforms import log_rotation

#: Joint values nearer than this are the same reading: rounding, through the inverse.
_SAME = np.radians(0.3)
_SAME_SLIDE = 1e-3  # m


@dataclass(frozen=True)
class Slip:
    """One number of a row that alone would put it right; rad for a turn, else m.

    ``name``: "joint 3", "x", "y" or "z".
    """

    name: str
    came: float
    would_be: float
    is_turn: bool


def likely_slip(description: Description, row: Reading) -> Slip | None:
    """Return the one number that is wrong in a row; None where no single one can be.

    ``description``: as the other rows prove it.
    """
    if row.T_shown_tcp is None:
        return None
    T = description.poses(row.shown[None])[0]
    turn = float(np.linalg.norm(log_rotation(row.T_shown_tcp[:3, :3].T @ T[:3, :3])))
    off = T[:3, 3] - row.T_shown_tcp[:3, 3]
    wrong = np.flatnonzero(np.abs(off) > CLOSE)
    if turn <= CLOSE_TURN and len(wrong) == 1:
        k = int(wrong[0])
        return Slip("xyz"[k], float(row.T_shown_tcp[k, 3]), float(T[k, 3]), is_turn=False)
    arm = description.arm
    found = []
    for q in solutions_of(description, row):
        gap = arm.readings.shown(q) - row.shown
        gap = np.where(arm.prismatic, gap, gap - 2 * np.pi * np.round(gap / (2 * np.pi)))
        wrong = np.flatnonzero(np.abs(gap) > np.where(arm.prismatic, _SAME_SLIDE, _SAME))
        if len(wrong) == 1:
            found.append((int(wrong[0]), float(gap[wrong[0]])))
    if len(found) != 1:
        return None
    joint, amount = found[0]
    came = float(row.shown[joint])
    return Slip(arm.joint_name(joint), came, came + amount, not bool(arm.prismatic[joint]))
