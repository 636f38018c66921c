"""Ways to count that fit the turns of displayed poses, whatever the arm's lengths are.

How a flange is turned depends on joint values alone and on no length: where the lengths are in
doubt, the turns still tell signs, zeros and coupling. All combinations are looked at together: the
arm is cut in two before its last three joints, and the products of both halves are compared.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.fit.by_inverse import Choice, mix_rows, turned_near
from pathsim.fit.description import Description, Reading
from pathsim.fit.explanations import coupled_joint
from pathsim.fit.trials import CLOSE_TURN
from pathsim.transforms import Array, log_rotation

#: Zeros are looked for from each quarter turn, since a fit only finds its way from nearby.
_QUARTERS = (0.0, np.pi / 2, np.pi, -np.pi / 2)
#: So many joints are looked at with each quarter turn; with more, only signs and coupling change.
_MOST_TURNED = 6
#: So many of the combinations, the nearest, are followed; all of an equal turn are among them.
_FOLLOWED, _STEPS = 192, 12
_LAST = 3


def ways_by_turns(description: Description, rows: Sequence[Reading]) -> list[Choice]:
    """All ways to count in which the turns of all rows with a pose fit, the nearest first."""
    arm = description.arm
    turning = np.flatnonzero(~arm.prismatic)
    posed = [row for row in rows if row.T_shown_tcp is not None]
    if len(turning) <= _LAST or not posed:
        return []
    shown = np.array([row.shown for row in posed])
    target = _flange_turns(description, posed)
    options = [_options(description, j, len(turning)) for j in range(arm.dof)]
    cut = int(turning[-_LAST])
    left = _products(description, shown, options, range(cut))
    right = _products(description, shown, options, range(cut, arm.dof))
    # The trace of each product with the turn that is shown; 3 a row where they are the same.
    seen = np.swapaxes(left, -1, -2) @ target
    score = seen.reshape(len(seen), -1) @ right.reshape(len(right), -1).T
    best = np.argsort(-score, axis=None, kind="stable")[:_FOLLOWED]
    sizes = [len(one) for one in options]
    picked = np.array(np.unravel_index(best, sizes)).T
    mix = np.array([[options[j][k][0] for j, k in enumerate(row)] for row in picked])
    zero = np.array([[options[j][k][1] for j, k in enumerate(row)] for row in picked])
    zero, off = _descend(description, shown, target, mix, zero)
    found: dict[tuple[float, ...], Choice] = {}
    for k in np.flatnonzero(off <= CLOSE_TURN):
        if abs(np.linalg.det(mix[k])) > 1e-9:
            near = turned_near(arm, zero[k])
            key = tuple(np.round(np.concatenate([mix[k].ravel(), near]), 2))
            found.setdefault(key, Choice(mix[k], near))
    return list(found.values())


def _flange_turns(description: Description, rows: Sequence[Reading]) -> Array:
    """Return turns ``(n, 3, 3)`` of the last link in the base that the displayed poses ask for."""
    shown = np.array([row.T_shown_tcp for row in rows])[:, :3, :3]
    return np.asarray(
        description.T_shown_base[:3, :3].T @ shown @ description.T_flange_tcp[:3, :3].T
    )


def _options(description: Description, joint: int, turning: int) -> list[tuple[Array, float]]:
    """Rows of the map and zeros that a joint may have; one that slides stays as it is."""
    arm = description.arm
    now = float(arm.readings.zero[joint])
    if arm.prismatic[joint] or joint == arm.held:
        return [(arm.readings.mix[joint], now)]
    turns = _QUARTERS if turning <= _MOST_TURNED else (0.0,)
    return [(row, now + turn) for row in mix_rows(arm, joint, coupled_joint(arm)) for turn in turns]


def _about_z(angle: Array) -> Array:
    """Return turns ``(..., 3, 3)`` about z."""
    c, s, o = np.cos(angle), np.sin(angle), np.zeros_like(angle)
    flat = [c, -s, o, s, c, o, o, o, o + 1]
    return np.stack(flat, axis=-1).reshape(*angle.shape, 3, 3)


def _products(
    description: Description,
    shown: Array,
    options: Sequence[Sequence[tuple[Array, float]]],
    joints: range,
) -> Array:
    """Return turns ``(combinations, n, 3, 3)`` of joints in a row, the last option fastest."""
    arm = description.arm
    so_far = np.broadcast_to(np.eye(3), (1, len(shown), 3, 3))
    for j in joints:
        q = np.array([shown @ row + zero for row, zero in options[j]])
        turn = _about_z(q if not arm.prismatic[j] else np.zeros_like(q))
        turn = arm.fixed[j, :3, :3] @ turn
        if j == arm.dof - 1:
            turn = turn @ arm.ends[-1, :3, :3]
        so_far = (so_far[:, None] @ turn[None]).reshape(-1, len(shown), 3, 3)
    return so_far


def _descend(
    description: Description, shown: Array, target: Array, mix: Array, zero: Array
) -> tuple[Array, Array]:
    """Zeros ``(c, dof)`` that fit the turns best, and the largest turn left ``(c,)``, rad."""
    arm = description.arm
    zero = np.array(zero)
    free = ~arm.prismatic
    if arm.held is not None:
        free = free & (np.arange(arm.dof) != arm.held)
    for step in range(_STEPS + 1):
        q = np.einsum("nj,cij->cni", shown, mix) + zero[:, None]
        R = np.broadcast_to(np.eye(3), (*q.shape[:2], 3, 3))
        axes = []
        for j in range(arm.dof):
            turn = _about_z(q[..., j] if not arm.prismatic[j] else np.zeros_like(q[..., j]))
            R = R @ arm.fixed[j, :3, :3] @ turn
            axes.append(R[..., 2])
        R = R @ arm.ends[-1, :3, :3]
        off = log_rotation(np.swapaxes(target, -1, -2) @ R)
        if step == _STEPS:
            break
        seen = np.swapaxes(R, -1, -2)[..., None, :, :] @ np.stack(axes, axis=-2)[..., None]
        J = np.moveaxis(seen[..., 0][..., free, :], -1, -2).reshape(len(zero), -1, int(free.sum()))
        # Least in norm: what turns do not tell, such as the share of parallel joints, stays.
        moved = np.linalg.pinv(J, rcond=1e-6) @ off.reshape(len(zero), -1, 1)
        zero[:, free] -= np.clip(moved[..., 0], -0.5, 0.5)
    return zero, np.asarray(np.linalg.norm(off, axis=-1).max(axis=-1))
