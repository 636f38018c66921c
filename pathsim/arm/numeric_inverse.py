"""Numerical inverse for arms without a closed form: damped Newton steps from many seeds.

Honest about its limit: a search that finds nothing does not prove that nothing is there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathsim.arm.forward import axis_frames, jacobian
from pathsim.transforms import Array, BoolArray, log_rotation

if TYPE_CHECKING:
    from pathsim.arm.chain import Arm

#: Position (m) and rotation (rad) error below which a solution counts as reached.
REACHED = 1e-10
_SEEDS = 256
#: So many of them lie round the joint values that the arm comes from, so far apart, rad or m.
_NEAR_SEEDS, _NEAR = 32, 0.4
_STEPS = 60
_LARGEST_STEP = 0.5  # rad or m; keeps Newton steps from leaping between postures
_SLIDE = 3.0  # m, where seeds are put on a slide without limits


@dataclass(frozen=True, eq=False)
class NumericInverse:
    """Newton's method for one arm with one tool.

    Six joints or more, all but the held one free, meet the whole pose. Five joints meet the
    place of the tool centre point and the direction of its z, since a turn about the wire
    changes nothing at the weld. Fewer joints must meet the whole pose, or there is no solution.
    """

    arm: Arm
    T_flange_tcp: Array

    @property
    def _free(self) -> Array:
        """Return 1.0 for each joint that may move, 0.0 for the held one."""
        free = np.ones(self.arm.dof)
        if self.arm.held is not None:
            free[self.arm.held] = 0.0
        return free

    def newton(self, T: Array, start: Array, steps: int = _STEPS) -> tuple[Array, BoolArray]:
        """Go from ``start (n, dof)`` to flange poses ``T (n, 4, 4)``: ``q``, ``reached (n,)``.

        Damped least squares with damping proportional to the error (Nakamura and Hanafusa's
        idea), so that convergence is quadratic near a regular solution.
        """
        arm, free = self.arm, self._free
        goal = T @ self.T_flange_tcp
        end = arm.ends[-1] @ self.T_flange_tcp
        q = start.copy()
        reached = np.zeros(len(q), dtype=bool)
        for _ in range(steps):
            live = np.flatnonzero(~reached)
            if len(live) == 0:
                break
            axes = axis_frames(arm.fixed, q[live], arm.prismatic)
            tip = axes[:, -1] @ end
            J = jacobian(axes, tip[:, :3, 3], arm.prismatic) * free
            error = self._error(goal[live], tip, J)
            size = np.linalg.norm(error, axis=-1)
            reached[live] = size < REACHED
            step = _damped(J, error, size)
            largest = np.abs(step).max(axis=-1, keepdims=True)
            step *= np.minimum(1.0, _LARGEST_STEP / np.maximum(largest, 1e-300))
            moving = ~reached[live]
            q[live[moving]] += step[moving]
        return q, reached

    def _error(self, goal: Array, tip: Array, J: Array) -> Array:
        """Rows ``(n, 6)`` of what is missing; takes out of ``J`` what five joints need not meet."""
        error = np.empty((len(goal), 6))
        error[:, :3] = goal[:, :3, 3] - tip[:, :3, 3]
        if self.arm.dof != 5:
            error[:, 3:] = log_rotation(goal[:, :3, :3] @ np.swapaxes(tip[:, :3, :3], -1, -2))
            return error
        z, z_goal = tip[:, :3, 2], goal[:, :3, 2]
        across = np.cross(z, z_goal)
        sine = np.linalg.norm(across, axis=-1, keepdims=True)
        angle = np.arctan2(sine, (z * z_goal).sum(axis=-1, keepdims=True))
        error[:, 3:] = across * np.where(sine > 1e-12, angle / np.maximum(sine, 1e-12), 1.0)
        turning = J[:, 3:]
        J[:, 3:] = turning - z[:, :, None] * (z[:, None, :] @ turning)
        return error

    def follow(self, T: Array, near: Array) -> tuple[Array, BoolArray]:
        """Solve ``T (n, 4, 4)`` from ``near (n, dof)``; the held joint keeps its value there."""
        return self.newton(T, near, steps=20)

    def search(self, T: Array, held: float, near: Array | None = None) -> Array:
        """Distinct solutions ``(k, dof)`` of one pose, found from seeds spread over the limits.

        ``near (dof,)``: where the arm comes from. It is a seed itself and has some round it:
        the solution least away from it is what is asked for most, and its basin may be small.
        """
        arm, seeds = self.arm, self._seeds(held, near)
        q, reached = self.newton(np.broadcast_to(T, (len(seeds), 4, 4)), seeds)
        found = q[reached]
        turned = np.pi - np.mod(np.pi - found, 2 * np.pi)
        found = np.where(arm.prismatic, found, turned)
        return found[_first_of_each(arm, found)].reshape(-1, arm.dof)

    def _seeds(self, held: float, near: Array | None) -> Array:
        """Where Newton's steps start from ``(n, dof)``; those near ``near`` come first."""
        arm = self.arm
        widest = np.where(arm.prismatic, _SLIDE, np.pi)
        low = np.where(np.isfinite(arm.lower), np.maximum(arm.lower, -widest), -widest)
        high = np.where(np.isfinite(arm.upper), np.minimum(arm.upper, widest), widest)
        low, high = np.minimum(low, high), np.maximum(low, high)
        # A fixed seed: the same question gets the same answer on every machine.
        random = np.random.default_rng(20240229)
        seeds = random.uniform(low, high, (_SEEDS, arm.dof))
        if near is not None:
            round_it = near + random.normal(0.0, _NEAR, (_NEAR_SEEDS, arm.dof))
            seeds = np.concatenate([near[None], round_it, seeds])
        if arm.held is not None:
            seeds[:, arm.held] = held
        return seeds


def _damped(J: Array, error: Array, size: Array) -> Array:
    """Damped least-squares steps ``(n, dof)``, through the smaller of the two normal matrices."""
    Jt = np.swapaxes(J, -1, -2)
    damping = (1e-3 * np.minimum(size, 1.0) ** 2 + 1e-14)[:, None, None]
    if J.shape[-1] < 6:
        normal = Jt @ J + damping * np.eye(J.shape[-1])
        return np.asarray(np.linalg.solve(normal, Jt @ error[..., None])[..., 0])
    normal = J @ Jt + damping * np.eye(6)
    return np.asarray((Jt @ np.linalg.solve(normal, error[..., None]))[..., 0])


def _first_of_each(arm: Arm, found: Array) -> list[int]:
    """Return the rows of ``found (n, dof)`` that are no posture of a kept row before, in order."""
    # All gaps at once: hundreds of rows lie in a few postures.
    turns = np.exp(1j * found)
    kept: list[int] = []
    for k in range(len(found)):
        gaps = np.where(arm.prismatic, found[kept] - found[k], np.abs(turns[kept] - turns[k]))
        if not kept or np.abs(gaps).max(axis=1).min() > 1e-6:
            kept.append(k)
    return kept


def posture_gap(arm: Arm, q: Array, other: Array) -> float:
    """Largest difference of joint values, whole turns not counted."""
    gap = np.where(arm.prismatic, q - other, np.abs(np.exp(1j * q) - np.exp(1j * other)))
    return float(np.abs(gap).max())
