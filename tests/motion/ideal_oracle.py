"""The ideal motion of ``CartesianMotion`` in another way, as oracle: whole arrays at once.

Shares from the closed forms of the laws, poses from the paths, the weave from its schedule by
interpolation; the kernels work on pieces of polynomials, and time by time.
"""

import numpy as np
from scipy.interpolate import PPoly
from scipy.spatial.transform import Rotation

from pathsim.model import Pattern
from pathsim.transforms import Array
from tests.motion.path_oracle import left_of, mixed, poses, tangents


def tool(motion, t: Array) -> Array:
    """Poses of the tool ``(n, 4, 4)`` on the part, weave included."""
    s = motion.shares(t)
    T = poses(motion.path, s)
    if motion.place is not None and motion.place.schedule is not None:
        side, ahead = offsets(motion.place.schedule, t + motion.place.start)
        left, travel = _weave_directions(motion, s, T)
        T[:, :3, 3] += side[:, None] * left + ahead[:, None] * travel
    return T


def _weave_directions(motion, s: Array, T: Array) -> tuple[Array, Array]:
    """Return unit vectors ``(n, 3)`` to the left and along the travel at shares ``s``."""
    assert motion.weave is not None
    travel = tangents(motion.path, s)
    left = left_of(travel, T[:, :3, 2], motion.weave.tilt)
    for corner, distance in zip(
        motion.corners, (s * motion.path.length, (1 - s) * motion.path.length), strict=True
    ):
        if corner is None:
            continue
        w = np.clip(1 - distance / motion.corner_width, 0.0, 1.0)[:, None]
        left, travel = mixed(left, corner[0], w), mixed(travel, corner[1], w)
    return left, travel


def flange(motion, t: Array) -> Array:
    """Poses of the flange ``(n, 4, 4)`` in the base."""
    T = tool(motion, t) @ motion.T_tcp_flange
    if motion.table is None:
        return np.asarray(T)
    return np.asarray(motion.T_base_world @ _on_table(motion, held(motion, t)) @ T)


def held(motion, t: Array) -> Array:
    """Values ``(n, k)`` of the held axes at times ``t (n,)``."""
    s, ends = motion.shares(t), np.append(0.0, motion.held.ends)
    values = np.zeros((len(t), len(motion.held.start)))
    for k in range(values.shape[1]):
        values[:, k] = PPoly(motion.held.pieces[:, k, ::-1].T, ends)(s)
    return values


def _on_table(motion, values: Array) -> Array:
    """``T_world_table (n, 4, 4)``, by rotation vectors, an axis at a time."""
    axes = motion.table.axes
    T = np.broadcast_to(np.eye(4), (len(values), 4, 4))
    for axis, angles in zip(axes, values[:, -len(axes) :].T, strict=True):
        turn = np.tile(np.eye(4), (len(values), 1, 1))
        turn[:, :3, :3] = Rotation.from_rotvec(angles[:, None] * [0, 0, 1]).as_matrix()
        T = T @ axis.T_world_axis @ turn @ np.linalg.inv(axis.T_world_axis)
    return np.asarray(T)


def offsets(schedule, t: Array) -> tuple[Array, Array]:
    """Offsets to the left and ahead ``(n,)``, m, from the seam's centre at times ``t (n,)``."""
    turn = np.interp(t, schedule._times, schedule._turns)
    size, side = schedule.weave.amplitude, np.sin(turn)
    ahead = np.zeros_like(side)
    if schedule.weave.pattern is Pattern.ZIGZAG:
        side = 2 / np.pi * np.arcsin(side)
    elif schedule.weave.pattern is Pattern.CIRCLE:
        ahead = np.cos(turn) - 1
    elif schedule.weave.pattern is Pattern.EIGHT:
        ahead = np.sin(2 * turn) / 2
    elif schedule.weave.pattern is Pattern.CRESCENT:
        ahead = -(side**2) / 2
    still = t >= schedule._end
    return (
        np.asarray(np.where(still, 0.0, size * side)),
        np.asarray(np.where(still, 0.0, size * ahead)),
    )
