"""Forward kinematics of a chain of turning and sliding joints, for thousands of vectors at once."""

from __future__ import annotations

import numpy as np

from pathsim.errors import ShapeError
from pathsim.kernels.ready import are_ready
from pathsim.transforms import Array, BoolArray

#: Joint vectors worked on at once: all columns of one block stay in the processor's cache.
_BLOCK = 2048


def axis_frames(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """Frames ``(n, dof, 4, 4)`` of all joint axes in the base, after their joint has moved.

    ``qs`` is ``(n, dof)`` in rad, or m where ``prismatic (dof,)``. Column 2 of each frame is
    the joint's axis, column 3 a point on it (for a sliding joint the slide's place). By the
    kernel once that is compiled, else by plain code.
    """
    return (by_kernel if are_ready() else plain_frames)(fixed, qs, prismatic)


def last_frames(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """Frames ``(n, 4, 4)`` of the last axis alone, as in ``axis_frames``."""
    if not are_ready():
        return plain_frames(fixed, qs, prismatic)[:, -1]
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
    return (
        np.require(fixed, float, ["C", "W"]),
        np.require(qs, float, ["C", "W"]),
        np.require(prismatic, bool, ["C", "W"]),
    )


def plain_frames(fixed: Array, qs: Array, prismatic: BoolArray) -> Array:
    """As ``axis_frames``, all vectors at once by plain code."""
    frames = np.zeros((*qs.shape, 4, 4))
    frames[..., 3, 3] = 1.0
    for start in range(0, len(qs), _BLOCK):
        _fill(fixed, qs[start : start + _BLOCK], prismatic, frames[start : start + _BLOCK])
    return frames


def _fill(fixed: Array, qs: Array, prismatic: BoolArray, frames: Array) -> None:
    """Fill ``frames``, working on whole columns ``(3, n)``: numpy is slow on small matrices.

    The turn about z only mixes the first two columns; zeros of the fixed part cost nothing.
    """
    n = len(qs)
    columns = [np.repeat(unit[:, None], n, axis=1) for unit in np.eye(3)]
    place = np.zeros((3, n))
    for i in range(qs.shape[1]):
        turned = [_mix(columns, fixed[i, :3, k]) for k in range(3)]
        place = place + _mix(columns, fixed[i, :3, 3])
        if prismatic[i]:
            place = place + turned[2] * qs[:, i]
            columns = turned
        else:
            c, s = np.cos(qs[:, i]), np.sin(qs[:, i])
            columns = [c * turned[0] + s * turned[1], c * turned[1] - s * turned[0], turned[2]]
        for k in range(3):
            frames[:, i, :3, k] = columns[k].T
        frames[:, i, :3, 3] = place.T


def _mix(columns: list[Array], weights: Array) -> Array:
    """Sum ``(3, n)`` of columns, weighted; weights of exactly zero are left out."""
    total: Array | None = None
    for column, weight in zip(columns, weights, strict=True):
        if weight != 0.0:
            part = column if weight == 1.0 else column * weight
            total = part if total is None else total + part
    return np.zeros_like(columns[0]) if total is None else total


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
