"""One length of a description that alone would make readings fit: most often mistyped.

A place is linear in each length of a chain, and no turn depends on any: one step of least squares
is the answer, and rows whose turns do not fit are explained by no length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pathsim.fit.description import Description, Reading, Residual, Rows, errors, residuals
from pathsim.fit.trials import CLOSE, CLOSE_TURN, worst
from pathsim.transforms import Array, frozen

#: Rows have to fit so many times better than they did, that chance does not name a length.
_BETTER = 3.0
#: Ways per metre of a length that are nearer to each other are the same.
_SAME_WAY = 1e-6
#: A length by which the rows hardly move cannot be told from them.
_TELLS = 1e-3


@dataclass(frozen=True, eq=False)
class Length:
    """A length that a description gives, as its file calls it, m.

    ``fixed``, ``ends`` ``(dof, 4, 4)``: how the arm's chain changes with it, by the metre.
    """

    name: str
    value: float
    fixed: Array
    ends: Array


@dataclass(frozen=True)
class LengthSlip:
    """A length that would have to be ``would_be`` m, and what is ``left`` of the residuals then.

    ``is_a_shift``: a tool or a frame of poses that is shifted shows itself in just the same way, as
    it does for the height of the shoulder and for the flange.
    """

    name: str
    came: float
    would_be: float
    left: tuple[Residual, ...]
    is_a_shift: bool = False


def length_slips(
    description: Description, rows: Sequence[Reading], lengths: Sequence[Length]
) -> tuple[LengthSlip, ...]:
    """Return the lengths of which one alone explains the rows, the best first."""
    before = residuals(description, rows)
    distance, turn = worst(before)
    if turn > CLOSE_TURN or distance <= CLOSE or len(rows) < _LEAST_ROWS:
        return ()
    stacked = Rows.of(rows)
    off = errors(description, stacked)
    found = []
    for length in lengths:
        by_metre = errors(with_length(description, length, 1.0), stacked)[:, :3] - off[:, :3]
        size = float((by_metre**2).sum())
        if size < _TELLS * len(by_metre):
            continue
        amount = -float((by_metre * off[:, :3]).sum()) / size
        left = residuals(with_length(description, length, amount), rows)
        rest = worst(left)[0]
        if rest <= CLOSE and rest * _BETTER <= distance and length.value + amount >= 0:
            is_shift = is_a_shift(description, rows, length)
            value = length.value
            found.append(LengthSlip(length.name, value, value + amount, left, is_shift))
    return tuple(sorted(found, key=lambda slip: sum(r.distance**2 for r in slip.left)))


#: One row is explained by many a length.
_LEAST_ROWS = 3


def is_a_shift(description: Description, rows: Sequence[Reading], length: Length) -> bool:
    """Tell whether all tips go the same way with a length, seen from base or flange."""
    shown = np.array([row.shown for row in rows])
    poses, longer = description.poses(shown), with_length(description, length, 1.0).poses(shown)
    way = longer[:, :3, 3] - poses[:, :3, 3]
    from_flange = (np.swapaxes(poses[:, :3, :3], 1, 2) @ way[..., None])[..., 0]
    return bool(min(np.ptp(one, axis=0).max() for one in (way, from_flange)) < _SAME_WAY)


def with_length(description: Description, length: Length, amount: float) -> Description:
    """Return a description of which one length is more by ``amount`` m."""
    arm = description.arm
    other = replace(
        arm,
        fixed=frozen(arm.fixed + amount * length.fixed),
        ends=frozen(arm.ends + amount * length.ends),
    )
    return replace(description, arm=other)
