"""Exact distance between two triangle meshes, through python-fcl.

Only triangle mesh against triangle mesh is ever asked for: the library's boxes and convex
shapes return wrong distances in common poses. Arrays are checked by ``Mesh`` before they
get here, because the library crashes or invents hits on bad ones.
"""

from __future__ import annotations

import fcl
import numpy as np

from pathsim.errors import ShapeError
from pathsim.model import Mesh
from pathsim.transforms import Array


class Shape:
    """A mesh ready for distance queries."""

    def __init__(self, mesh: Mesh) -> None:
        model = fcl.BVHModel()
        model.beginModel(len(mesh.vertices), len(mesh.faces))
        model.addSubModel(np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.faces))
        model.endModel()
        self._object = fcl.CollisionObject(model, fcl.Transform())

    def place(self, T: Array) -> None:
        """Put the mesh at the rigid pose ``T (4, 4)``."""
        self._object.setTransform(fcl.Transform(T[:3, :3], T[:3, 3]))

    def distance(self, other: Shape) -> tuple[float, Array, Array]:
        """Distance in m and the nearest points on self and on other ``(3,)`` in the world.

        0 where surfaces meet or cross; the points then only tell about where.
        """
        request = fcl.DistanceRequest(enable_nearest_points=True)
        result = fcl.DistanceResult()
        value = fcl.distance(self._object, other._object, request, result)
        if not np.isfinite(value):
            raise ShapeError("the distance of two meshes came out as not a number")
        on_self, on_other = result.nearest_points
        return max(float(value), 0.0), np.asarray(on_self), np.asarray(on_other)
