"""Poses and rotations as arrays.

A pose ``T_parent_child`` is ``(..., 4, 4)`` and maps child coordinates to the parent.
Rotations are ``(..., 3, 3)``, rotation vectors ``(..., 3)`` in radians. Batches lead.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pathsim.errors import ShapeError

Array = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

_SMALL_ANGLE = 1e-9


def frozen(values: ArrayLike) -> Array:
    """Return a read-only float64 copy, for records that must not change."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def pose(R: ArrayLike, p: ArrayLike) -> Array:
    """Build ``(..., 4, 4)`` from a rotation ``(..., 3, 3)`` and a position ``(..., 3)`` in m."""
    R, p = np.asarray(R, float), np.asarray(p, float)
    lead = np.broadcast_shapes(R.shape[:-2], p.shape[:-1])
    T = np.zeros((*lead, 4, 4))
    T[..., :3, :3] = R
    T[..., :3, 3] = p
    T[..., 3, 3] = 1.0
    return T


def translation(p: ArrayLike) -> Array:
    """Return the pose that only moves, by ``p`` ``(..., 3)`` in m."""
    return pose(np.eye(3), p)


def inverse(T: Array) -> Array:
    """Invert rigid poses ``(..., 4, 4)``."""
    Rt = np.swapaxes(T[..., :3, :3], -1, -2)
    return pose(Rt, -(Rt @ T[..., :3, 3:])[..., 0])


def apply(T: Array, points: ArrayLike) -> Array:
    """Map points ``(..., n, 3)`` through poses ``(..., 4, 4)``."""
    return np.asarray(points, float) @ np.swapaxes(T[..., :3, :3], -1, -2) + T[..., None, :3, 3]


def rotation_about(axis: ArrayLike, angle: ArrayLike) -> Array:
    """Rotation about a unit axis ``(..., 3)`` by ``angle`` ``(...)`` rad (Rodrigues)."""
    K, x = skew(axis), np.asarray(angle, float)[..., None, None]
    # 1 - cos x through the half angle, which does not cancel
    return np.asarray(np.eye(3) + np.sin(x) * K + 2 * np.sin(x / 2) ** 2 * (K @ K))


def exp_rotation(vector: ArrayLike) -> Array:
    """Rotation of a rotation vector ``(..., 3)``, rad (Rodrigues' formula)."""
    v = np.asarray(vector, float)
    angle = np.linalg.norm(v, axis=-1)
    safe = np.where(angle < _SMALL_ANGLE, 1.0, angle)
    a = np.where(angle < _SMALL_ANGLE, 1.0, np.sin(safe) / safe)[..., None, None]
    # (1 - cos x) / x^2 through the half angle, which does not cancel
    b = np.where(angle < _SMALL_ANGLE, 0.5, 2 * (np.sin(safe / 2) / safe) ** 2)[..., None, None]
    K = skew(v)
    return np.eye(3) + a * K + b * (K @ K)


def skew(v: ArrayLike) -> Array:
    """Matrix ``(..., 3, 3)`` with ``skew(v) @ u == cross(v, u)``."""
    v = np.asarray(v, float)
    K = np.zeros((*v.shape[:-1], 3, 3))
    K[..., 0, 1], K[..., 0, 2] = -v[..., 2], v[..., 1]
    K[..., 1, 0], K[..., 1, 2] = v[..., 2], -v[..., 0]
    K[..., 2, 0], K[..., 2, 1] = -v[..., 1], v[..., 0]
    return K


def log_rotation(R: Array) -> Array:
    """Rotation vector ``(..., 3)`` of rotations, angle in [0, pi], the shortest turn.

    Goes through the quaternion with its largest component (Shepperd's method), which
    stays accurate at half a turn where the usual trace formula does not.
    """
    q = quat_wxyz_from_rotation(R)
    w, v = q[..., 0], q[..., 1:]
    n = np.linalg.norm(v, axis=-1)
    angle = 2 * np.arctan2(n, w)
    scale = np.where(n < _SMALL_ANGLE, 2.0, angle / np.where(n < _SMALL_ANGLE, 1.0, n))
    return v * scale[..., None]


def quat_wxyz_from_rotation(R: Array) -> Array:
    """Return unit quaternions (w, x, y, z), w >= 0, of rotations ``(..., 3, 3)`` (Shepperd)."""
    R = np.asarray(R, float)
    d = np.stack([R[..., 0, 0], R[..., 1, 1], R[..., 2, 2]], axis=-1)
    trace = d.sum(axis=-1)
    squares = np.concatenate([1 + trace[..., None], 1 + 2 * d - trace[..., None]], axis=-1)
    x, y, z = (R[..., 2, 1], R[..., 0, 2], R[..., 1, 0])
    xt, yt, zt = (R[..., 1, 2], R[..., 2, 0], R[..., 0, 1])
    rows = np.stack(
        [
            np.stack([squares[..., 0], x - xt, y - yt, z - zt], axis=-1),
            np.stack([x - xt, squares[..., 1], z + zt, y + yt], axis=-1),
            np.stack([y - yt, z + zt, squares[..., 2], x + xt], axis=-1),
            np.stack([z - zt, y + yt, x + xt, squares[..., 3]], axis=-1),
        ],
        axis=-2,
    )
    best = np.argmax(squares, axis=-1)
    q = np.take_along_axis(rows, best[..., None, None], axis=-2)[..., 0, :]
    q = q / np.linalg.norm(q, axis=-1, keepdims=True)
    return np.asarray(np.where(q[..., :1] < 0, -q, q))


def rotation_from_quat_wxyz(q: ArrayLike) -> Array:
    """Rotation of quaternions (w, x, y, z) ``(..., 4)``; normalised here, ShapeError if zero."""
    given: Array = np.asarray(q, np.float64)
    norm = np.linalg.norm(given, axis=-1, keepdims=True)
    if not np.all(norm > 1e-6):
        raise ShapeError("a quaternion of zero length is no rotation")
    unit = given / norm
    w, v = unit[..., :1, None], unit[..., 1:]
    K = skew(v)
    return np.asarray(np.eye(3) + 2 * w * K + 2 * (K @ K))


class Turn:
    """The shortest turn from ``R0`` to ``R1 (3, 3)``; ``angle`` in [0, pi], rad."""

    def __init__(self, R0: Array, R1: Array) -> None:
        R = R0.T @ R1
        # Twice the sine along the axis; it says nothing of the axis near half a turn. By plain
        # numbers: of three or nine of them numpy takes several times as long.
        (xx, xy, xz), (yx, yy, yz), (zx, zy, zz) = R.tolist()
        x, y, z = zy - yz, xz - zx, yx - xy
        sine, cosine = math.sqrt(x * x + y * y + z * z) / 2, (xx + yy + zz - 1) / 2
        if cosine > -0.9:
            angle = math.atan2(sine, cosine)
            scale = 0.5 if sine < _SMALL_ANGLE else angle / (2 * sine)
            x, y, z = x * scale, y * scale, z * scale
        else:
            x, y, z = log_rotation(R).tolist()
        self.angle = math.sqrt(x * x + y * y + z * z)
        # A turn that is hardly one is even to the first order.
        self.scale = self.angle if self.angle > _SMALL_ANGLE else 1.0
        x, y, z = x / self.scale, y / self.scale, z / self.scale
        K = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
        aside = R0 @ K
        #: Start, sine and versine: what ``at`` adds up.
        self.parts = R0, aside, aside @ K

    def at(self, s: ArrayLike) -> Array:
        """Rotations ``(n, 3, 3)`` at shares ``s`` ``(n,)`` (Rodrigues' formula)."""
        x = np.asarray(s, float)[..., None, None] * self.scale
        start, sine, versine = self.parts
        # 1 - cos x through the half angle, which does not cancel
        return np.asarray(start + np.sin(x) * sine + 2 * np.sin(x / 2) ** 2 * versine)


def rotation_angle(R: Array) -> Array:
    """Angle ``(...)`` in rad of rotations ``(..., 3, 3)``."""
    return np.asarray(np.linalg.norm(log_rotation(R), axis=-1))


def rotation_from_angles(order: str, angles: ArrayLike) -> Array:
    """Rotation from three angles ``(..., 3)`` in rad, by a convention said in mathematics.

    ``order`` is one of ``fixed x-y-z`` (about fixed x, then y, then z), ``intrinsic z-y-x``
    (about z, then the new y, then the new x) and ``z-y-z`` (intrinsic). The angles come
    in the order in which the convention names its axes.
    """
    a = np.asarray(angles, float)
    x, y, z = np.eye(3)
    first, second, third = a[..., 0], a[..., 1], a[..., 2]
    if order == "fixed x-y-z":
        product = rotation_about(z, third) @ rotation_about(y, second) @ rotation_about(x, first)
    elif order == "intrinsic z-y-x":
        product = rotation_about(z, first) @ rotation_about(y, second) @ rotation_about(x, third)
    elif order == "z-y-z":
        product = rotation_about(z, first) @ rotation_about(y, second) @ rotation_about(z, third)
    else:
        raise ShapeError(f"unknown rotation convention {order!r}")
    return np.asarray(product)


def require_poses(T: ArrayLike, name: str = "T") -> Array:
    """Return poses as an array, or ShapeError when they are not finite rigid ``(..., 4, 4)``."""
    array = np.asarray(T, dtype=np.float64)
    if array.shape[-2:] != (4, 4):
        raise ShapeError(f"{name} must be (..., 4, 4), came {array.shape}")
    if not np.isfinite(array).all():
        raise ShapeError(f"{name} holds numbers that are not finite")
    R = array[..., :3, :3]
    error = np.abs(R @ np.swapaxes(R, -1, -2) - np.eye(3)).max(initial=0.0)
    if error > 1e-6 or np.any(np.linalg.det(R) < 0):
        raise ShapeError(f"{name} is no rigid pose: its rotation part is off by {error:.2g}")
    return array


def pose_at(
    position: ArrayLike = (0.0, 0.0, 0.0),
    *,
    turned: ArrayLike | None = None,
    order: str = "fixed x-y-z",
    quat_wxyz: ArrayLike | None = None,
    rotation: ArrayLike | None = None,
) -> Array:
    """Return a pose ``(4, 4)`` from a position ``(3,)`` in m and at most one form of rotation.

    ``turned (3,)`` in rad, by a convention said in ``order`` (``rotation_from_angles``);
    ``quat_wxyz (4,)``, made a unit quaternion here; or ``rotation (3, 3)``. Frames are the
    caller's: child to parent. Raises ShapeError with what came and what is due.
    """
    p = _numbers(position, (3,), "position (3,) in m")
    given = [name for name, value in (("turned", turned), ("quat_wxyz", quat_wxyz),
                                      ("rotation", rotation)) if value is not None]  # fmt: skip
    if len(given) > 1:
        raise ShapeError(f"came {' and '.join(given)}; expected one form of rotation")
    R: Array = np.eye(3)
    if turned is not None:
        R = rotation_from_angles(order, _numbers(turned, (3,), "turned (3,) in rad"))
    elif quat_wxyz is not None:
        R = rotation_from_quat_wxyz(_numbers(quat_wxyz, (4,), "quat_wxyz (4,)"))
    elif rotation is not None:
        R = _numbers(rotation, (3, 3), "rotation (3, 3)")
    return frozen(require_poses(pose(R, p), "the pose"))


def _numbers(values: ArrayLike, shape: tuple[int, ...], what: str) -> Array:
    """Return finite numbers of a shape; ShapeError with what is due."""
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise ShapeError(f"came {values!r}; expected {what}") from error
    if array.shape != shape or not np.isfinite(array).all():
        came = f"shape {array.shape}" if array.shape != shape else "numbers that are not finite"
        raise ShapeError(f"came {came}; expected {what}")
    return array
