"""Forward kinematics of a chain of revolute joints, for thousands of joint vectors at once."""

from __future__ import annotations

import numpy as np

from pathsim.errors import ShapeError
from pathsim.transforms import Array


def axis_frames(fixed: Array, qs: Array) -> Array:
    """Frames ``(n, dof, 4, 4)`` of all joint axes in the base, after their joint has turned.

    ``qs`` is ``(n, dof)`` in rad. Column 2 of each frame is the joint's axis, column 3 a
    point on it. The turn about z only mixes the first two columns, which is cheaper than
    a product of matrices.
    """
    n, dof = qs.shape
    frames = np.zeros((n, dof, 4, 4))
    frames[..., 3, 3] = 1.0
    c, s = np.cos(qs)[..., None], np.sin(qs)[..., None]
    R, p = np.broadcast_to(np.eye(3), (n, 3, 3)), np.zeros((n, 3))
    for i in range(dof):
        p = p + R @ fixed[i, :3, 3]
        M = R @ fixed[i, :3, :3]
        R = np.empty((n, 3, 3))
        R[:, :, 0] = c[:, i] * M[:, :, 0] + s[:, i] * M[:, :, 1]
        R[:, :, 1] = c[:, i] * M[:, :, 1] - s[:, i] * M[:, :, 0]
        R[:, :, 2] = M[:, :, 2]
        frames[:, i, :3, :3] = R
        frames[:, i, :3, 3] = p
    return frames


def jacobian(axes: Array, tip: Array) -> Array:
    """Geometric Jacobian ``(n, 6, dof)`` in the base frame, linear rows first.

    ``axes`` are the axis frames ``(n, dof, 4, 4)``, ``tip`` the point ``(n, 3)`` that moves.
    Column i is ``(z_i x (tip - o_i), z_i)`` (Siciliano et al., Robotics, ch. 3).
    """
    z = axes[..., :3, 2]
    arm = tip[:, None, :] - axes[..., :3, 3]
    return np.swapaxes(np.concatenate([np.cross(z, arm), z], axis=-1), -1, -2)


def joint_batch(q: object, dof: int) -> tuple[Array, tuple[int, ...]]:
    """Return joints as ``(n, dof)`` and the leading shape; ShapeError with what came."""
    qs = np.asarray(q, dtype=np.float64)
    if qs.ndim == 0 or qs.shape[-1] != dof:
        raise ShapeError(f"joint values must be (..., {dof}) in rad, came {qs.shape}")
    if not np.isfinite(qs).all():
        raise ShapeError("joint values hold numbers that are not finite")
    return qs.reshape(-1, dof), qs.shape[:-1]
