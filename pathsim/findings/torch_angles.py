"""Work and travel angle of the torch, and the two plates' faces that they refer to.

Definitions as in Modern Welding (2013, pp. 68 and 70, reporting AWS A3.0): the travel angle lies
between the electrode's axis and the line square to the weld axis, in the plane of both; the
work angle between the line square to the non-butting member and the plane of weld axis and
electrode axis.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.model import Cell, Role
from pathsim.transforms import Array

#: Faces within this of the tip are looked at, m.
_NEAR = 0.012
_LOOKED_ON = 0.05  # least cosine of a face that the torch looks on
#: Two faces whose normals differ by less are one plate's, as a cosine.
_SAME_FACE = np.cos(np.radians(20.0))


def angles_at(e: Array, travel: Array, n1: Array, n2: Array) -> tuple[float, float]:
    """Work and travel angle, rad; travel positive for drag, negative for push.

    ``e``: unit vector from tip to torch body; ``travel``: direction of travel; ``n1`` and ``n2``:
    normals of the non-butting and of the butting plate, away from the metal.
    """
    t = travel / np.linalg.norm(travel)
    along = float(e @ t)
    across = e - along * t
    work = float(np.arctan2(across @ n2, across @ n1))
    return work, float(np.arcsin(np.clip(along, -1, 1)))


def plate_normals(cell: Cell, tip: Array, e: Array) -> tuple[Array, Array] | None:
    """Return normals of the two plates whose faces are near ``tip (3,)`` on the part.

    The flatter one comes first: that it is the non-butting member is an assumption. None when
    the parts' meshes show no two faces there that the torch, in the direction ``e``, looks on.
    """
    normals: list[Array] = []
    weights: list[float] = []
    for corners, unit in _part_faces(cell):
        away = _distances(tip, corners)
        for index in np.flatnonzero((away < _NEAR) & (unit @ e > _LOOKED_ON)):
            # the nearest faces weigh most
            normals.append(unit[index])
            weights.append(float(np.exp(-away[index] / 0.003)))
    if not normals:
        return None
    return _two_faces(np.array(normals), np.array(weights))


def _part_faces(cell: Cell) -> Iterator[tuple[Array, Array]]:
    """Triangles ``(n, 3, 3)`` and unit normals ``(n, 3)`` of each part; none without area."""
    for body in cell.bodies:
        if body.role is Role.PART:
            mesh = body.mesh.moved(body.T_world_body)
            corners = mesh.vertices[mesh.faces]
            normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
            area = np.linalg.norm(normal, axis=1)
            sound = area > 1e-14
            yield corners[sound], normal[sound] / area[sound][:, None]


def _two_faces(normals: Array, weights: Array) -> tuple[Array, Array] | None:
    """Return the two heaviest directions that are not one face's, the flatter one first."""
    score = np.array([(weights * (normals @ n > _SAME_FACE)).sum() for n in normals])
    first = normals[int(np.argmax(score))]
    other = np.abs(normals @ first) < np.cos(np.radians(30.0))
    if not other.any():
        return None
    second = normals[other][int(np.argmax(score[other]))]
    pair = sorted((first, second), key=lambda n: -abs(float(n[2])))
    return pair[0], pair[1]


def _distances(point: Array, triangles: Array) -> Array:
    """Distance ``(n,)`` of a point from triangles ``(n, 3, 3)`` (Ericson, ch. 5, from memory)."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    n = np.cross(b - a, c - a)
    n /= np.linalg.norm(n, axis=1, keepdims=True)
    height = ((point - a) * n).sum(axis=1)
    foot = point - height[:, None] * n
    inside = np.ones(len(a), dtype=bool)
    edge = np.full(len(a), np.inf)
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= (np.cross(q - p, foot - p) * n).sum(axis=1) >= 0
        way = q - p
        s = np.clip(((point - p) * way).sum(axis=1) / (way * way).sum(axis=1), 0, 1)
        edge = np.minimum(edge, np.linalg.norm(p + s[:, None] * way - point, axis=1))
    return np.asarray(np.where(inside, np.abs(height), edge))
