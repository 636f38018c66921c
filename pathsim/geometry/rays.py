"""Rays against triangles."""

from __future__ import annotations

import numpy as np

from pathsim.transforms import Array

#: A ray runs along a triangle's plane where the determinant of both is less: area times sine, m2.
PARALLEL = 1e-18
#: So many triangles are held against all rays in one go: what is worked out stays in the cache.
_AT_ONCE = 256


def crossings(origin: Array, directions: Array, triangles: Array, least: float) -> np.ndarray:
    """Count for rays ``origin (3,)``, unit ``directions (m, 3)`` the ``triangles (k, 3, 3)`` hit.

    Moeller and Trumbore's test, its triple products turned so that a direction comes last and all
    rays are one product of matrices. Hits nearer than ``least`` m do not count. Returns ``(m,)``.
    """
    count = np.zeros(len(directions), dtype=np.int64)
    for first in range(0, len(triangles), _AT_ONCE):
        count += _crossings(origin, directions.T, triangles[first : first + _AT_ONCE], least)
    return count


def _crossings(origin: Array, d: Array, triangles: Array, least: float) -> np.ndarray:
    a = triangles[:, 0]
    e1, e2 = triangles[:, 1] - a, triangles[:, 2] - a
    s = origin - a
    q = _cross(s, e1)
    det = _cross(e2, e1) @ d
    safe = np.where(np.abs(det) < PARALLEL, np.inf, det)
    u, v = (_cross(e2, s) @ d) / safe, (q @ d) / safe
    t = (e2 * q).sum(axis=-1)[:, None] / safe
    return np.asarray(((u >= 0) & (v >= 0) & (u + v <= 1) & (t > least)).sum(axis=0))


def _cross(a: Array, b: Array) -> Array:
    """Return ``np.cross`` of rows ``(k, 3)``, to the last bit, in half its time."""
    found = np.empty_like(a)
    for k, (i, j) in enumerate(((1, 2), (2, 0), (0, 1))):
        found[:, k] = a[:, i] * b[:, j] - a[:, j] * b[:, i]
    return found
