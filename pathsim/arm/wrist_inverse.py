"""Closed-form inverse of an arm with a spherical wrist behind two parallel axes.

Joints 2 and 3 parallel, joints 4, 5 and 6 meeting in one point: the build of most arms
that weld. Nothing else is assumed: offsets, axis signs and zero positions are free, so
both Denavit-Hartenberg conventions and dimension drawings come out alike.

Solutions are numbered by their **branch** 0..7: bit 2 the choice at joint 1 (shoulder),
bit 1 at joint 3 (elbow), bit 0 at joint 5 (wrist). Along a path a branch is continuous
unless the path passes through a singularity, which is why a move keeps its branch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.arm.forward import axis_frames
from pathsim.kernels.arrays import as_asked
from pathsim.kernels.plain import plain
from pathsim.kernels.ready import are_ready
from pathsim.transforms import Array, BoolArray

_PARALLEL = 1e-9
_MEET = 1e-9
BRANCHES = 8


@dataclass(frozen=True)
class WristGeometry:
    """The zero posture of such an arm, all in the base frame, m."""

    axes: Array  # (6, 3) unit axes
    shoulder: Array  # (3,) a point on axis 1
    to_shoulder: Array  # (3,) from there to axis 2
    upper_arm: Array  # (3,) from axis 2 to axis 3
    forearm: Array  # (3,) from axis 3 to the wrist centre
    wrist_in_flange: Array  # (3,) wrist centre in the flange frame
    flange_rotation: Array  # (3, 3)

    @property
    def is_square(self) -> bool:
        """Tell whether axis 5 is square to axes 4 and 6."""
        return _are_square(self.axes[3:])

    @cached_property
    def for_kernel(self) -> tuple[Array, Array, Array, bool]:
        """Axes, vectors, transposed rotation and squareness, as the kernel takes them."""
        vectors = np.array([self.shoulder, self.to_shoulder, self.upper_arm, self.forearm,
                            self.wrist_in_flange, _across_of(self.axes[3:])])  # fmt: skip
        axes, back = np.array(self.axes, order="C"), np.array(self.flange_rotation.T, order="C")
        return axes, vectors, back, self.is_square


def wrist_geometry(fixed: Array, ends: Array) -> WristGeometry | None:
    """Return the geometry when the chain is of this build, None when it is not."""
    if len(fixed) != 6:
        return None
    frames = axis_frames(fixed, np.zeros((1, 6)), np.zeros(6, dtype=bool))[0]
    axes, points = frames[:, :3, 2], frames[:, :3, 3]
    if np.linalg.norm(np.cross(axes[1], axes[2])) > _PARALLEL:
        return None
    if np.linalg.norm(np.cross(axes[0], axes[1])) < 1e-6:
        return None
    centre = _meeting_point(axes[3:], points[3:])
    if centre is None:
        return None
    flange = frames[5] @ ends[5]
    return WristGeometry(
        axes=axes,
        shoulder=points[0],
        to_shoulder=points[1] - points[0],
        upper_arm=points[2] - points[1],
        forearm=centre - points[2],
        wrist_in_flange=flange[:3, :3].T @ (centre - flange[:3, 3]),
        flange_rotation=flange[:3, :3],
    )


def _meeting_point(axes: Array, points: Array) -> Array | None:
    """Point nearest to three lines in least squares, or None when they do not meet."""
    P = np.eye(3) - axes[:, :, None] * axes[:, None, :]
    if np.linalg.matrix_rank(P.sum(axis=0), tol=1e-6) < 3:
        return None
    centre = np.linalg.solve(P.sum(axis=0), (P @ points[:, :, None])[..., 0].sum(axis=0))
    miss = np.linalg.norm((P @ (centre - points)[:, :, None])[..., 0], axis=-1)
    return centre if miss.max() < _MEET else None


def wrist_solutions(
    geometry: WristGeometry, T: Array, branches: Sequence[int] = range(BRANCHES)
) -> tuple[Array, BoolArray]:
    """Solutions of poses ``T_base_flange (n, 4, 4)``: ``q (n, b, 6)`` and ``exists (n, b)``.

    Of all eight branches, or of those asked for, in their order. Angles are in (-pi, pi],
    limits not regarded. Where the wrist is aligned joint 4 is set to zero and joint 6 takes
    the whole turn. By the kernel, compiled once it is ready, else as plain Python.
    """
    return (by_kernel if are_ready() else by_columns)(geometry, T, branches)


def by_kernel(
    geometry: WristGeometry, T: Array, branches: Sequence[int]
) -> tuple[Array, BoolArray]:
    """As ``wrist_solutions``, by the kernel, compiled now if it is not yet."""
    from pathsim.arm.wrist_kernel import wrist_branches

    q = np.empty((len(T), len(branches), 6))
    exists = np.empty((len(T), len(branches)), dtype=bool)
    poses = as_asked(T, float)
    wanted = np.array(branches, dtype=np.int64)
    wrist_branches(*geometry.for_kernel, wanted, poses, q, exists)
    return q, exists


def by_columns(
    geometry: WristGeometry, T: Array, branches: Sequence[int]
) -> tuple[Array, BoolArray]:
    """As ``wrist_solutions``, by the kernel as plain Python, all poses at once."""
    from pathsim.arm.wrist_kernel import wrist_branches

    q = np.empty((1, len(branches), 6, len(T)))
    exists = np.empty((1, len(branches), len(T)), dtype=bool)
    poses = np.ascontiguousarray(np.moveaxis(T, 0, -1))[None]
    plain(wrist_branches)(*geometry.for_kernel, list(branches), poses, q, exists)
    return np.moveaxis(q[0], -1, 0), np.moveaxis(exists[0], -1, 0)


def _are_square(h: Array) -> bool:
    """Tell whether the middle one of three axes ``(3, 3)`` is square to both others."""
    return bool(max(abs(h[0] @ h[1]), abs(h[1] @ h[2])) < 1e-12)


def _across_of(h: Array) -> Array:
    """Return a unit vector square to the last of three axes ``(3, 3)``."""
    return np.cross(h[2], h[1]) if _are_square(h) else _any_square_to(h[2])


def _any_square_to(axis: Array) -> Array:
    """Return some unit vector square to ``axis``."""
    other = np.eye(3)[np.argmin(np.abs(axis))]
    across = np.cross(axis, other)
    return np.asarray(across / np.linalg.norm(across))
