"""The closed-form inverse in another way, as oracle: rotation matrices, both angles of a root.

Knows nothing of the kernel: products of whole matrices ``(n, 3, 3)`` where that turns vectors, two
arc tangents where that has one of a product, numpy over all poses.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pathsim.transforms import Array, BoolArray, rotation_about, skew

TANGENT, ALIGNED = 1e-9, 1e-9


def turn_onto(axis: Array, start: Array, goal: Array) -> Array:
    """Angle about ``axis`` that brings ``start`` closest to ``goal``; ``(n,)``."""
    # axis . (start x goal) = start . (goal x axis), and goal x axis is one product of matrices
    sine = -(start * (goal @ skew(axis).T)).sum(axis=-1)
    cosine = (start * goal).sum(axis=-1) - (start @ axis) * (goal @ axis)
    return np.asarray(np.arctan2(sine, cosine))


def turn_to_height(
    axis: Array, point: Array, direction: Array, height: Array, root: Array | None = None
) -> tuple[Array, BoolArray]:
    """Both angles x with ``direction . Rot(axis, x) point = height``, and whether they exist.

    Returns ``angles (n, 2)`` and ``exists (n,)``. With ``c`` the cosine and ``s`` the sine
    part the equation is ``c cos x + s sin x = rest``, solved by
    ``atan2(s, c) +- atan2(sqrt(c^2 + s^2 - rest^2), rest)``. ``root`` may give the square
    root when the caller knows it without cancellation.
    """
    along = np.outer(point @ axis, axis) if point.ndim == 2 else (point @ axis) * axis
    across = point - along
    c = (across * direction).sum(axis=-1)
    s = (np.cross(axis, across) * direction).sum(axis=-1)
    rest = height - (along * direction).sum(axis=-1)
    size = np.hypot(c, s)
    square = size**2 - rest**2
    exists = square >= -TANGENT * np.maximum(size**2, 1e-12)
    opening = np.arctan2(np.sqrt(np.maximum(square, 0.0)) if root is None else root, rest)
    middle = np.arctan2(s, c)
    return np.stack([middle + opening, middle - opening], axis=-1), exists


def turn_to_distance(
    axis: Array, point: Array, base: Array, distance: Array
) -> tuple[Array, BoolArray]:
    """Both angles x with ``|base + Rot(axis, x) point| = distance``, and whether they exist.

    Returns ``angles (n, 2)`` and ``exists (n,)``. Squaring turns it into a height problem.
    """
    height = (distance**2 - point @ point - base @ base) / 2
    n = len(height)
    return turn_to_height(axis, np.tile(point, (n, 1)), np.tile(base, (n, 1)), height)


def plain_solutions(
    geometry, T: Array, branches: Sequence[int] = range(8)
) -> tuple[Array, BoolArray]:
    """Solutions ``q (n, b, 6)`` of poses ``(n, 4, 4)`` on these branches, and which exist."""
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
