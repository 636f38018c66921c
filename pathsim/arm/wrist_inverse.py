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
from pathsim.arm.subproblems import ALIGNED, turn_onto, turn_to_distance, turn_to_height
from pathsim.kernels.ready import are_ready
from pathsim.transforms import Array, BoolArray, rotation_about

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
    the whole turn. By the kernel once that is compiled, else by plain code.
    """
    if are_ready():
        return by_kernel(geometry, T, branches)
    return plain_solutions(geometry, T, branches)


def by_kernel(
    geometry: WristGeometry, T: Array, branches: Sequence[int]
) -> tuple[Array, BoolArray]:
    """As ``wrist_solutions``, by the kernel, compiled now if it is not yet."""
    from pathsim.arm.wrist_kernel import wrist_branches

    q = np.empty((len(T), len(branches), 6))
    exists = np.empty((len(T), len(branches)), dtype=bool)
    # A copy where it may not be written to: that would be another type to the compiler.
    poses = np.require(T, float, ["C", "W"])
    wanted = np.array(branches, dtype=np.int64)
    wrist_branches(*geometry.for_kernel, wanted, poses, q, exists)
    return q, exists


def plain_solutions(
    geometry: WristGeometry, T: Array, branches: Sequence[int] = range(BRANCHES)
) -> tuple[Array, BoolArray]:
    """As ``wrist_solutions``, all poses at once by plain code."""
    n = len(T)
    q = np.zeros((n, len(branches), 6))
    exists = np.ones((n, len(branches)), dtype=bool)
    h = geometry.axes
    centre = T[:, :3, :3] @ geometry.wrist_in_flange + T[:, :3, 3] - geometry.shoulder
    turned = T[:, :3, :3] @ geometry.flange_rotation.T
    height = h[1] @ (geometry.to_shoulder + geometry.upper_arm + geometry.forearm)
    first, reach_1 = turn_to_height(-h[0], centre, h[1], np.full(n, height))
    for shoulder in sorted({branch >> 2 & 1 for branch in branches}):
        q1 = first[:, shoulder]
        back = rotation_about(h[0], -q1)
        goal = (back @ centre[:, :, None])[..., 0] - geometry.to_shoulder
        third, reach_3 = turn_to_distance(
            h[2], geometry.forearm, geometry.upper_arm, np.linalg.norm(goal, axis=-1)
        )
        turned_back = back @ turned
        for elbow in sorted({b >> 1 & 1 for b in branches if b >> 2 & 1 == shoulder}):
            q3 = third[:, elbow]
            R3 = rotation_about(h[2], q3)
            q2 = turn_onto(h[1], geometry.upper_arm + R3 @ geometry.forearm, goal)
            R_arm = rotation_about(h[1], q2) @ R3
            R_wrist = np.swapaxes(R_arm, -1, -2) @ turned_back
            places = [k for k, b in enumerate(branches) if b >> 1 == 2 * shoulder + elbow]
            flips = [branches[k] & 1 for k in places]
            wrist, reach_5 = _wrist_angles(h[3:], R_wrist, flips)
            for k, angles in zip(places, wrist, strict=True):
                q[:, k, 0], q[:, k, 1], q[:, k, 2] = q1, q2, q3
                q[:, k, 3:] = angles
                exists[:, k] = reach_1 & reach_3 & reach_5
    return _wrapped(q), exists


def _wrist_angles(h: Array, R: Array, flips: Sequence[int]) -> tuple[list[Array], BoolArray]:
    """Solutions ``(n, 3)`` of ``Rot(h0) Rot(h1) Rot(h2) = R (n, 3, 3)``, one for each flip."""
    last = R @ h[2]
    height = last @ h[0]
    root = None
    square = _are_square(h)
    off_line = np.linalg.norm(np.cross(h[0], last), axis=-1)
    if square:
        # Both axes square to the middle one: |h0 x R h2| is the root without cancellation,
        # which keeps joint 5 exact near alignment.
        root = off_line
    middle, exists = turn_to_height(h[1], np.tile(h[2], (len(R), 1)), h[0], height, root)
    across = _across_of(h)
    acrosses = np.tile(across, (len(R), 1))
    result = []
    for flip in flips:
        R5 = rotation_about(h[1], middle[:, flip])
        before = R5 @ h[2]
        q4 = np.where(off_line < ALIGNED, 0.0, turn_onto(h[0], before, last))
        rest = np.swapaxes(rotation_about(h[0], q4) @ R5, -1, -2) @ R
        q6 = turn_onto(h[2], acrosses, rest @ across)
        result.append(np.stack([q4, middle[:, flip], q6], axis=-1))
    return result, exists


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


def _wrapped(q: Array) -> Array:
    """Angles into (-pi, pi]."""
    return np.asarray(np.pi - np.mod(np.pi - q, 2 * np.pi))
