"""What stands between an eye and a place: rays against triangles."""

from __future__ import annotations

import numpy as np

from pathsim.geometry.rays import crossings
from pathsim.scene.records import SceneMesh
from pathsim.transforms import Array, apply

_OWN_SURFACE = 1.5e-3  # m


def blocked(origin: Array, directions: Array, triangles: Array) -> np.ndarray:
    """Tell for rays ``origin (3,)``, unit ``directions (m, 3)`` which hit ``triangles (k, 3, 3)``.

    Hits within a millimetre and a half do not count: a place on a surface does not hide itself.
    """
    return crossings(origin, directions, triangles, _OWN_SURFACE) > 0


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
