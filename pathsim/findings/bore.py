"""Where the wire runs in the piece of the torch round it: sections of a mesh square to the wire."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.transforms import Array

_DIRECTIONS = 72
_TURN = 2 * np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
_RAYS = np.column_stack([np.cos(_TURN), np.sin(_TURN)])


class Outline(NamedTuple):
    """Outline of a section, its corners cut off nowhere (convex).

    ``depth``: the wire is so far inside, m; below zero so far outside. ``radius``: half of its
    least width, m. ``middle (2,)``: half way between its sides.
    """

    depth: float
    radius: float
    middle: Array


def outline(triangles: Array, z: float, within: float = np.inf) -> Outline | None:
    """Cut ``triangles (n, 3, 3)`` at height ``z``, the wire being the z axis; None if nothing is.

    ``within``: only what is so near to the wire counts, m.
    """
    a, b = triangles, np.roll(triangles, -1, axis=1)
    above, below = a[..., 2] - z, b[..., 2] - z
    crosses = (above <= 0) != (below <= 0)
    share = above[crosses] / (above[crosses] - below[crosses])
    points = (a[crosses] + share[:, None] * (b[crosses] - a[crosses]))[:, :2]
    points = points[np.hypot(points[:, 0], points[:, 1]) <= within]
    if len(points) == 0:
        return None
    reach = (points @ _RAYS.T).max(axis=0)  # how far it goes in each direction
    back = np.roll(reach, _DIRECTIONS // 2)
    quarter = _DIRECTIONS // 4
    middle = (reach[[0, quarter]] - back[[0, quarter]]) / 2
    return Outline(float(reach.min()), float((reach + back).min() / 2), middle)
