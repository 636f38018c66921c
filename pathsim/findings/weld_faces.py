"""Triangles of the parts beside a seam: of a mesh of a million few are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pathsim.model import Body
from pathsim.transforms import Array, IntArray, apply, inverse

#: What is farther from the wire's end than this, along any axis of a part, is not beside it, m.
WIDE = 40e-3
#: A triangle so near to a plane may be cut by it: rounding of places of up to a kilometre, m.
_SLACK = 1e-9


@dataclass(frozen=True, eq=False)
class Faces:
    """Triangles of a body beside a seam, in its own frame, with their outward unit normals.

    ``corners (n, 3, 3)`` m, ``normals (n, 3)``; ``T_body_part (4, 4)``.
    """

    name: str
    T_body_part: Array
    corners: Array
    normals: Array

    @cached_property
    def _columns(self) -> Array:
        """Corners by axis and corner ``(3, 3, n)``: each place of a seam looks at all of them."""
        return np.ascontiguousarray(self.corners.transpose(2, 1, 0))

    def crossing(self, place: Array, along: Array) -> IntArray:
        """Return the triangles that the plane through ``place (3,)`` square to ``along`` may cut.

        Unit ``along (3,)``. Only those whose boxes come within ``WIDE`` of the place, by axes.
        """
        x, y, z = self._columns
        height = x * along[0] + y * along[1] + z * along[2]
        level = place @ along
        above, below = height > level - _SLACK, height < level + _SLACK
        found = np.flatnonzero((above[0] | above[1] | above[2]) & (below[0] | below[1] | below[2]))
        beside = self.corners[found] - place
        is_near = (beside.min(axis=1) < WIDE) & (beside.max(axis=1) > -WIDE)
        return np.asarray(found[is_near.all(axis=1)])


def faces_beside(body: Body, tips: Array) -> Faces:
    """Return what of a body may be cut near any of the wire's ends ``tips (n, 3)``, on the part.

    A triangle all of whose corners lie beyond one side of the box round them (Cohen and
    Sutherland's outcodes) is left out.
    """
    T, mesh = inverse(body.T_world_body), body.mesh
    places = apply(T, tips)
    low, high = places.min(axis=0) - WIDE, places.max(axis=0) + WIDE
    beyond = np.concatenate([mesh.vertices <= low, mesh.vertices >= high], axis=1)
    codes = np.packbits(beyond, axis=1)[:, 0]
    first, second, third = (codes[mesh.faces[:, k]] for k in range(3))
    corners = mesh.vertices[mesh.faces[(first & second & third) == 0]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(normal, axis=1)
    is_sound = area > 1e-14
    normals = mesh.outwards * normal[is_sound] / area[is_sound][:, None]
    return Faces(body.name, T, corners[is_sound], normals)
