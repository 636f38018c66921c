"""Forward kinematics of a chain of turning and sliding joints, for thousands of vectors at once."""

from __future__ import annotations

import numpy as np

from pathsim.errors import ShapeError
from pathsim.kernels.arrays import as_asked
from pathsim.kernels.plain import plain
from pathsim.kernels.ready import are_ready
from pathsim.transforms import Array, BoolArray

#: Joint vectors worked on at once: all columns of one block stay in the processor's cache.
_BLOCK = 2048


def axis_frames(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """Frames ``(n, dof, 4, 4)`` of all joint axes in the base, after their joint has moved.

    ``qs`` is ``(n, dof)`` in rad, or m where ``prismatic (dof,)``. Column 2 of each frame is
    the joint's axis, column 3 a point on it (for a sliding joint the slide's place). By the
    kernel, compiled once it is ready, else as plain Python.
    """
    return (by_kernel if are_ready() else by_columns)(fixed, qs, prismatic)


def last_frames(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """Frames ``(n, 4, 4)`` of the last axis alone, as in ``axis_frames``."""
    if not are_ready():
        return by_columns(fixed, qs, prismatic)[:, -1]
    return last_by_kernel(fixed, qs, prismatic)


def by_kernel(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """As ``axis_frames``, by the kernel, compiled now if it is not yet."""
    from pathsim.arm.forward_kernel import fill_frames

    frames = np.zeros((*qs.shape, 4, 4))
    fill_frames(*_writable(fixed, qs, prismatic), frames)
    return frames


def last_by_kernel(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """As ``last_frames``, by the kernel, compiled now if it is not yet."""
    from pathsim.arm.forward_kernel import fill_last_frames

    frames = np.zeros((len(qs), 4, 4))
    fill_last_frames(*_writable(fixed, qs, prismatic), frames)
    return frames


def _writable(fixed: Array, qs: Array, prismatic: BoolArray) -> tuple[Array, Array, BoolArray]:
    """Copy what may not be written to: that would be another type to the compiler."""
    return as_asked(fixed, float), as_asked(qs, float), as_asked(prismatic, bool)


def by_columns(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """As ``axis_frames``, by the kernel as plain Python, all vectors of a block at once."""
    from pathsim.arm.forward_kernel import fill_frames

    fill, frames = plain(fill_frames), np.empty((*qs.shape, 4, 4))
    for start in range(0, len(qs), _BLOCK):
        block = qs[start : start + _BLOCK].T[None]
        columns = np.zeros((1, len(fixed), 4, 4, block.shape[-1]))
        fill(fixed, block, prismatic, columns)
        frames[start : start + _BLOCK] = np.moveaxis(columns[0], -1, 0)
    return frames


def jacobian(axes: Array, tip: Array, prismatic: BoolArray) -> Array:
    """Geometric Jacobian ``(n, 6, dof)`` in the base frame, linear rows first.

    ``axes`` are the axis frames ``(n, dof, 4, 4)``, ``tip`` the point ``(n, 3)`` that moves.
    Column i is ``(z_i x (tip - o_i), z_i)`` for a turning joint and ``(z_i, 0)`` for a sliding
    one (Siciliano et al., Robotics, ch. 3).
    """
    z = axes[..., :3, 2]
    arm = tip[:, None, :] - axes[..., :3, 3]
    slides = prismatic[:, None]
    linear = np.where(slides, z, np.cross(z, arm))
    angular = np.where(slides, 0.0, z)
    return np.swapaxes(np.concatenate([linear, angular], axis=-1), -1, -2)


def joint_batch(q: object, dof: int) -> tuple[Array, tuple[int, ...]]:
    """Return joints as ``(n, dof)`` and the leading shape; ShapeError with what came."""
    qs = np.asarray(q, dtype=np.float64)
    if qs.ndim == 0 or qs.shape[-1] != dof:
        raise ShapeError(f"joint values must be (..., {dof}) in rad, came {qs.shape}")
    if not np.isfinite(qs).all():
        raise ShapeError("joint values hold numbers that are not finite")
    return qs.reshape(-1, dof), qs.shape[:-1]
