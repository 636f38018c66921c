"""Whether triangles close a volume: each edge has to bound two of them, once in each direction."""

from __future__ import annotations

import numpy as np

from pathsim.geometry.equal_rows import first_equal
from pathsim.transforms import Array, IntArray


def open_edges(vertices: Array, faces: IntArray) -> int:
    """Count the edges that do not bound as many triangles the one way as the other.

    ``vertices (n, 3)``, ``faces (m, 3)``. Corners in the very same place are one; triangles that
    are no more than a line count for nothing. 0: closed, all triangles facing the same side.
    """
    bits = np.ascontiguousarray(np.asarray(vertices, np.float64) + 0.0).view(np.int64)
    _, welded = first_equal(bits)
    corners = welded[faces]
    is_flat = (corners == np.roll(corners, 1, axis=1)).any(axis=1)
    corners = corners[~is_flat]
    a, b = corners.reshape(-1), np.roll(corners, -1, axis=1).reshape(-1)
    forward = a < b
    edge = np.where(forward, a * len(vertices) + b, b * len(vertices) + a)
    _, which = np.unique(edge, return_inverse=True)
    balance = np.bincount(which, weights=np.where(forward, 1.0, -1.0))
    return int(np.count_nonzero(balance))
