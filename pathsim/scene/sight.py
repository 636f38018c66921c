"""What stands between an eye and a place: rays against triangles."""

from __future__ import annotations

import numpy as np

from pathsim.scene.records import SceneMesh
from pathsim.transforms import Array, apply

_OWN_SURFACE = 1.5e-3  # m


def blocked(origin: Array, directions: Array, triangles: Array) -> np.ndarray:
    """Tell for rays ``origin (3,)``, ``directions (m, 3)`` which hit ``triangles (k, 3, 3)``.

    Moeller and Trumbore's test; directions are unit. Hits within a millimetre and a half do
    not count: a place on a surface does not hide itself.
    """
    a = triangles[:, 0]
    e1, e2 = triangles[:, 1] - a, triangles[:, 2] - a
    hit = np.zeros(len(directions), dtype=bool)
    s = origin - a
    q = np.cross(s, e1)
    along = (e2 * q).sum(axis=-1)
    for index, d in enumerate(directions):
        p = np.cross(d, e2)
        det = (e1 * p).sum(axis=-1)
        safe = np.where(np.abs(det) < 1e-15, np.inf, det)
        u, v, t = (s * p).sum(axis=-1) / safe, (q @ d) / safe, along / safe
        hit[index] = bool(((u >= 0) & (v >= 0) & (u + v <= 1) & (t > _OWN_SURFACE)).any())
    return hit


def placed(mesh: SceneMesh, T_world_link: Array) -> Array:
    """Triangles ``(k, 3, 3)`` of a mesh in the world at link poses ``(dof + 1, 4, 4)``."""
    points = mesh.vertices
    if mesh.link is not None:
        points = apply(T_world_link[mesh.link], points)
    return np.asarray(points[mesh.faces])


def near_ray(triangles: Array, origin: Array, eyes: Array) -> bool:
    """Tell whether the box round the triangles meets the box round origin and all eyes."""
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    points = np.vstack([origin[None], eyes])
    return bool((points.min(axis=0) <= high).all() and (points.max(axis=0) >= low).all())
