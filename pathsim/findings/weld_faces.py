"""Triangles of the parts beside a seam: of a mesh of a million few are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.model import Body
from pathsim.transforms import Array, IntArray, apply, inverse

#: What is farther from the wire's end than this, along any axis of a part, is not beside it, m.
WIDE = 40e-3


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
    def _boxes(self) -> tuple[Array, Array]:
        """Lowest and highest corners of the triangles' boxes, each ``(3, n)``, m.

        One axis behind the other: each place of a seam looks at all of one.
        """
        first, second, third = np.ascontiguousarray(self.corners.transpose(1, 2, 0))
        return (
            np.minimum(np.minimum(first, second), third),
            np.maximum(np.maximum(first, second), third),
        )

    def near(self, place: Array) -> IntArray:
        """Return the triangles whose boxes come within ``WIDE`` of a place ``(3,)``, by axes."""
        low, high = self._boxes
        found = (low[0] < place[0] + WIDE) & (high[0] > place[0] - WIDE)
        for k in (1, 2):
            found &= low[k] < place[k] + WIDE
            found &= high[k] > place[k] - WIDE
        return np.flatnonzero(found)


#: 1 where a mesh's triangles face outwards, -1 where inwards: told by its volume, once.
_OUTWARDS: WeakKeyDictionary[Mesh, float] = WeakKeyDictionary()


def _outwards(mesh: Mesh) -> float:
    if mesh not in _OUTWARDS:
        a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
        _OUTWARDS[mesh] = -1.0 if (a * np.cross(b - a, c - a)).sum() < 0 else 1.0
    return _OUTWARDS[mesh]


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
    normals = _outwards(mesh) * normal[is_sound] / area[is_sound][:, None]
    return Faces(body.name, T, corners[is_sound], normals)
