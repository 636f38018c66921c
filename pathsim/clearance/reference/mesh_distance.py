"""Exact distance between two triangle meshes, through python-fcl.

Only triangle mesh against triangle mesh is ever asked for: the library's boxes and convex
shapes return wrong distances in common poses. Arrays are checked by ``Mesh`` before they
get here, because the library crashes or invents hits on bad ones. It is loaded with the first
mesh that needs it: where the swept engine answers, none does.
"""

from __future__ import annotations

import numpy as np

from pathsim.errors import ShapeError
from pathsim.geometry.closest_points import closest_points
from pathsim.model import Mesh
from pathsim.transforms import Array


class Shape:
    """A mesh ready for distance queries."""

    def __init__(self, mesh: Mesh) -> None:
        import fcl

        model = fcl.BVHModel()
        model.beginModel(len(mesh.vertices), len(mesh.faces))
        model.addSubModel(np.ascontiguousarray(mesh.vertices), np.ascontiguousarray(mesh.faces))
        model.endModel()
        self._mesh, self._object = mesh, fcl.CollisionObject(model, fcl.Transform())

    def place(self, T: Array) -> None:
        """Put the mesh at the rigid pose ``T (4, 4)``."""
        import fcl

        self._object.setTransform(fcl.Transform(T[:3, :3], T[:3, 3]))

    def distance(self, other: Shape) -> tuple[float, Array, Array]:
        """Distance in m and the nearest points on self and on other ``(3,)`` in the world.

        0 where surfaces meet or cross: both points then are one place where they do.
        """
        import fcl

        request = fcl.DistanceRequest(enable_nearest_points=True)
        result = fcl.DistanceResult()
        value = fcl.distance(self._object, other._object, request, result)
        if not np.isfinite(value):
            raise ShapeError("the distance of two meshes came out as not a number")
        on_self, on_other = (np.asarray(point) for point in result.nearest_points)
        if value > 0.0:
            return float(value), on_self, on_other
        place = self._meeting(other)
        return 0.0, *((on_self, on_other) if place is None else (place, place))

    def gap(self, other: Shape) -> float:
        """Distance in m alone, 0 where surfaces meet: where they do is not worked out."""
        import fcl

        value = fcl.distance(self._object, other._object)
        if not np.isfinite(value):
            raise ShapeError("the distance of two meshes came out as not a number")
        return max(float(value), 0.0)

    def gaps(self, other: Shape, poses: Array) -> Array:
        """Return ``gap`` of itself at each of ``poses (n, 4, 4)``, ``(n,)`` m."""
        found = np.empty(len(poses))
        for k, T in enumerate(poses):
            self.place(T)
            found[k] = self.gap(other)
        return found

    def _meeting(self, other: Shape) -> Array | None:
        """Return a place ``(3,)`` where surfaces meet: of a distance of 0 the points are none."""
        import fcl

        request = fcl.CollisionRequest(num_max_contacts=1, enable_contact=True)
        result = fcl.CollisionResult()
        fcl.collide(self._object, other._object, request, result)
        if not result.contacts:
            return None
        # The library's own place of a contact lies centimetres off: only its triangles are right.
        contact = result.contacts[0]
        return meeting_place(self._triangle(contact.b1), other._triangle(contact.b2))

    def _triangle(self, index: int) -> Array:
        """Corners ``(3, 3)`` of one of its triangles where it stands, m."""
        R, p = self._object.getRotation(), self._object.getTranslation()
        return np.asarray(self._mesh.vertices[self._mesh.faces[index]] @ R.T + p)


def meeting_place(first: Array, second: Array) -> Array:
    """Return a place ``(3,)`` where two triangles ``(3, 3)`` meet, or that is nearest to both.

    Where they cross, a side of one of them goes through the other.
    """
    places, gaps = [], []
    for one, other in ((first, second), (second, first)):
        normal = np.cross(other[1] - other[0], other[2] - other[0])
        heights = (one - other[0]) @ normal
        for k in range(3):
            start, end = heights[k], heights[k - 2]
            share = start / (start - end) if start != end else 0.0
            places.append(one[k] + min(max(share, 0.0), 1.0) * (one[k - 2] - one[k]))
            on_other = closest_points(other[None], places[-1][None])[0]
            gaps.append(float(np.linalg.norm(on_other - places[-1])))
    return np.asarray(places[int(np.argmin(gaps))])
