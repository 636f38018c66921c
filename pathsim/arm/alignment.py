"""How near a posture is to a singularity: the wrist's alignment, and singular values for any arm.

For a spherical wrist joints 4, 5 and 6 line up where joint 5 is straight; shoulder and elbow
are in ``pathsim.arm.postures``. For any arm the smallest singular value of the Jacobian tells
how much tip motion the joints can still make in their worst direction. It mixes lengths and
angles, so lengths are divided by a characteristic length, which is always said beside it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.chain import Arm
from pathsim.arm.forward import joint_batch
from pathsim.arm.inverse import closed_form
from pathsim.transforms import Array


def has_spherical_wrist(arm: Arm) -> bool:
    """Tell whether alignment of joints 4 and 6 is this arm's wrist singularity."""
    return closed_form(arm) is not None


def wrist_joints(arm: Arm) -> tuple[int, int, int]:
    """Return the indices of the three wrist joints: the last three."""
    return arm.dof - 3, arm.dof - 2, arm.dof - 1


def wrist_angle(arm: Arm, q: ArrayLike) -> Array:
    """Angle ``(...)`` between the lines of joints 4 and 6, rad in [0, pi/2]; 0 is aligned.

    For a spherical wrist with square axes this is the angle of joint 5 from its aligned
    position; |sin| of it is the wrist factor of the Jacobian's determinant.
    """
    # Seen from joint 5 the line of joint 4 stands still and that of joint 6 turns with it: what
    # other joints do, their own two turns included, moves neither against the other.
    _, middle, last = wrist_joints(arm)
    rows, leading = joint_batch(q, arm.dof)
    turn = np.where(arm.prismatic[middle], 0.0, rows[:, middle])
    c, s = np.cos(turn), np.sin(turn)
    fourth, x = arm.fixed[middle, 2, :3], arm.fixed[last, :3, 2]
    sixth = np.stack([c * x[0] - s * x[1], s * x[0] + c * x[1], np.full(len(rows), x[2])], axis=1)
    across = np.linalg.norm(np.cross(fourth, sixth), axis=-1)
    return np.asarray(np.arctan2(across, np.abs(sixth @ fourth))).reshape(leading)


def characteristic_length(arm: Arm) -> float:
    """Length that turns angles into lengths, m: half the sum of the arm's own link offsets.

    There is no agreed value; half of the stretched length is where most work is done. A
    rail's offset does not count.
    """
    offsets = np.linalg.norm(arm.fixed[1:, :3, 3], axis=-1)
    if arm.has_rail:
        offsets = offsets[1:]
    total = float(offsets.sum() + np.linalg.norm(arm.ends[-1][:3, 3]))
    return max(total / 2, 1e-3)


def smallest_singular_value(arm: Arm, q: ArrayLike, length: float) -> Array:
    """Smallest singular value ``(...)`` of the Jacobian, lengths divided by ``length`` m.

    Of the ``min(6, dof)`` values. 0: some small motion of the tip (of the joints, for fewer
    than six) cannot be made at all.
    """
    J = arm.jacobian(q).copy()
    J[..., :3, :] /= length
    return np.asarray(np.linalg.svd(J, compute_uv=False)[..., -1])
