"""The nearest place on each of many triangles, in numpy: for single places, without a tree.

The library that has it as well takes longer to start than a whole check of a cell.
"""

from __future__ import annotations

import numpy as np

from pathsim.transforms import Array


def closest_points(triangles: Array, places: Array) -> Array:
    """Return the place ``(n, 3)`` on each of ``triangles (n, 3, 3)`` nearest to ``places (n, 3)``.

    All in one frame and one unit. The nearest of four: on each side, and square below the place
    where that is within the triangle (Ericson, Real-Time Collision Detection, 5.1.5, tells the
    same by regions). Triangles without area are their sides.
    """
    found = np.empty_like(places, dtype=float)
    least = np.full(len(places), np.inf)

    def offer(on: Array, counts: Array) -> None:
        away = np.where(counts, ((places - on) ** 2).sum(axis=1), np.inf)
        nearer = away < least
        found[nearer], least[nearer] = on[nearer], away[nearer]

    always = np.ones(len(places), bool)
    for k in range(3):
        start = triangles[:, k]
        side = triangles[:, k - 2] - start
        square = (side**2).sum(axis=1)
        share = ((places - start) * side).sum(axis=1) / np.where(square > 0.0, square, 1.0)
        offer(start + np.clip(share, 0.0, 1.0)[:, None] * side, always)
    a = triangles[:, 0]
    along, other, from_a = triangles[:, 1] - a, triangles[:, 2] - a, places - a
    normal = np.cross(along, other)
    size = (normal**2).sum(axis=1)
    safe = np.where(size > 0.0, size, 1.0)
    u = (np.cross(from_a, other) * normal).sum(axis=1) / safe
    v = (np.cross(along, from_a) * normal).sum(axis=1) / safe
    inside = (size > 0.0) & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0)
    offer(a + u[:, None] * along + v[:, None] * other, inside)
    return found
