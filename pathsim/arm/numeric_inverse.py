"""Numerical inverse for arms without a closed form: damped Newton steps from many seeds.

Honest about its limit: a search that finds nothing does not prove that nothing is there.
"""

from __future__ import annotations

import numpy as np

from pathsim.arm.forward import axis_frames, jacobian
from pathsim.transforms import Array, Flags, log_rotation

#: Position (m) and rotation (rad) error below which a solution counts as reached.
REACHED = 1e-10
_SEEDS = 256
_STEPS = 60
_LARGEST_STEP = 0.5  # rad; keeps Newton steps from leaping between postures


def newton(
    fixed: Array, end: Array, T: Array, start: Array, steps: int = _STEPS
) -> tuple[Array, Flags]:
    """Newton from ``start (n, dof)`` towards poses ``T (n, 4, 4)``: ``q`` and ``reached (n,)``.

    Damped least squares with damping proportional to the error (Nakamura and Hanafusa's
    idea), so that convergence is quadratic near a regular solution.
    """
    q = start.copy()
    reached = np.zeros(len(q), dtype=bool)
    for _ in range(steps):
        live = np.flatnonzero(~reached)
        if len(live) == 0:
            break
        axes = axis_frames(fixed, q[live])
        tip = axes[:, -1] @ end
        error = np.empty((len(live), 6))
        error[:, :3] = T[live, :3, 3] - tip[:, :3, 3]
        turn = T[live, :3, :3] @ np.swapaxes(tip[:, :3, :3], -1, -2)
        error[:, 3:] = log_rotation(turn)
        size = np.linalg.norm(error, axis=-1)
        reached[live] = size < REACHED
        J = jacobian(axes, tip[:, :3, 3])
        Jt = np.swapaxes(J, -1, -2)
        damping = (1e-3 * np.minimum(size, 1.0) ** 2 + 1e-14)[:, None, None] * np.eye(6)
        step = (Jt @ np.linalg.solve(J @ Jt + damping, error[..., None]))[..., 0]
        largest = np.abs(step).max(axis=-1, keepdims=True)
        step *= np.minimum(1.0, _LARGEST_STEP / np.maximum(largest, 1e-300))
        moving = ~reached[live]
        q[live[moving]] += step[moving]
    return q, reached


def search(fixed: Array, end: Array, T: Array, lower: Array, upper: Array) -> Array:
    """Distinct solutions ``(k, dof)`` of one pose, found from seeds spread over the limits."""
    dof = len(fixed)
    low = np.where(np.isfinite(lower), np.maximum(lower, -np.pi), -np.pi)
    high = np.where(np.isfinite(upper), np.minimum(upper, np.pi), np.pi)
    low, high = np.minimum(low, high), np.maximum(low, high)
    # A fixed seed: the same question gets the same answer on every machine.
    seeds = np.random.default_rng(20240229).uniform(low, high, (_SEEDS, dof))
    q, reached = newton(fixed, end, np.broadcast_to(T, (_SEEDS, 4, 4)), seeds)
    found = np.asarray(np.pi - np.mod(np.pi - q[reached], 2 * np.pi))
    kept: list[Array] = []
    for candidate in found:
        turned = [np.abs(np.exp(1j * candidate) - np.exp(1j * other)).max() for other in kept]
        if min(turned, default=np.inf) > 1e-6:
            kept.append(candidate)
    return np.array(kept).reshape(-1, dof)
