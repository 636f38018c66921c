"""Rays against triangles."""

from __future__ import annotations

import numpy as np

from pathsim.transforms import Array


def crossings(origin: Array, directions: Array, triangles: Array, least: float) -> np.ndarray:
    """Count for rays ``origin (3,)``, unit ``directions (m, 3)`` the ``triangles (k, 3, 3)`` hit.

    Moeller and Trumbore's test. Hits nearer than ``least`` m do not count. Returns ``(m,)``.
    """
    a = triangles[:, 0]
    e1, e2 = triangles[:, 1] - a, triangles[:, 2] - a
    count = np.zeros(len(directions), dtype=np.int64)
    s = origin - a
    q = np.cross(s, e1)
    along = (e2 * q).sum(axis=-1)
    for index, d in enumerate(directions):
        p = np.cross(d, e2)
        det = (e1 * p).sum(axis=-1)
        safe = np.where(np.abs(det) < 1e-15, np.inf, det)
        u, v, t = (s * p).sum(axis=-1) / safe, (q @ d) / safe, along / safe
        count[index] = int(((u >= 0) & (v >= 0) & (u + v <= 1) & (t > least)).sum())
    return count
