"""What an arm has left: from a wrist in line, from its limits and its reach; hoses wound up.

How far hoses stand to be wound is what the cell says, else common practice, as in ``wind_up.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.arm.alignment import has_spherical_wrist, wrist_angle
from pathsim.arm.inverse import closed_form
from pathsim.findings.wind_up import wound
from pathsim.model import Cell
from pathsim.transforms import Array


@dataclass(frozen=True)
class Reserve:
    """Of some postures. ``wrist``: least angle of joint 5 from a wrist in line, rad, if it has one.

    ``winds``: by column, how far joints 4 and 6 (of any arm the last but two and the last), and
    those about which the cell says what hoses stand, turn from least to most, rad.
    ``left (axes,)``: least way to the nearer limit, rad or m, inf without one; ``tightest``: the
    column of the turning axis that has the least, of slides where nothing that turns has limits:
    an angle and a length do not compare. ``stretch``: the largest share of what upper arm and
    forearm reach, None of other arms.
    """

    wrist: float | None
    winds: dict[int, float]
    left: tuple[float, ...]
    tightest: int | None
    stretch: float | None


def reserve(cell: Cell, q: Array) -> Reserve:
    """Return what is left over postures ``q (n, axes)``."""
    arm = cell.arm
    of_arm = q[:, : arm.dof]
    wrist = float(wrist_angle(arm, of_arm).min()) if has_spherical_wrist(arm) else None
    winds = {column: float(np.ptp(q[:, column])) for column in wound(cell)}
    left = tuple(float(v) for v in cell.axes.room(q).min(axis=0))
    limited = [k for k, way in enumerate(left) if np.isfinite(way)]
    turning = [k for k in limited if not cell.axes.prismatic[k]]
    tightest = min(turning or limited, key=lambda k: left[k], default=None)
    return Reserve(wrist, winds, left, tightest, stretch_of(cell, of_arm))


def stretch_of(cell: Cell, q: Array) -> float | None:
    """Return the largest stretch over the arm's joints ``q (n, dof)``: 1 with a straight elbow.

    The distance of the wrist's centre from axis 2, over upper arm plus forearm, both square to it.
    None for an arm without a closed form, on which no such share is defined.
    """
    solver = closed_form(cell.arm)
    if solver is None:
        return None
    g = solver.geometry
    most = sum(float(np.linalg.norm(np.cross(g.axes[1], v))) for v in (g.upper_arm, g.forearm))
    flange = cell.arm.pose(q)
    centre = flange[..., :3, :3] @ g.wrist_in_flange + flange[..., :3, 3]
    second = cell.arm.axis_frames(q)[..., solver.first + 1, :3, :]
    away = np.cross(second[..., 2], centre - second[..., 3])
    return float(np.linalg.norm(away, axis=-1).max() / most)
