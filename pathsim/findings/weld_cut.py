"""The parts cut square to a seam at many places: of a mesh of a million triangles few are cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.geometry.triangle_grid import TriangleGrid
from pathsim.model import Body
from pathsim.transforms import Array, BoolArray, IntArray, apply, inverse

#: What is farther from the wire's end than this, along any axis of a part, is not beside it, m.
WIDE = 40e-3
#: Most of a face square to the weld, as a cosine: it is no face along it.
_END_FACE = 0.95
#: A triangle of less has no face, twice its area in m^2.
_NO_AREA = 1e-14
#: A corner this near to the cutting plane is put just beside it, m.
_ON_PLANE = 1e-12
#: The corner that follows each of a triangle's.
_NEXT = np.array([1, 2, 0])


@dataclass(frozen=True, eq=False)
class Cut:
    """Faces in the plane: ``ends (n, 2, 2)`` m, outward ``normals (n, 2)``, bodies ``(n,)``.

    ``away (n,)``: how far each is from the wire's end, m.
    """

    ends: Array
    normals: Array
    bodies: IntArray
    away: Array

    def some(self, which: BoolArray | IntArray) -> Cut:
        """Return those of a mask or of numbers."""
        return Cut(self.ends[which], self.normals[which], self.bodies[which], self.away[which])


def cuts_along(parts: Sequence[Body], tips: Array, travel: Array, planes: Array) -> list[Cut]:
    """Cut the parts through each of ``tips (n, 3)`` square to unit ``travel (n, 3)``, on the part.

    ``planes (n, 2, 3)``: unit axes of what is told, square to the travel. A cut holds what comes
    within ``WIDE`` of its tip.
    """
    each = [_cut(body, tips, travel, planes) for body in parts]
    which, ends, normals = (np.concatenate(some) for some in zip(*each, strict=True))
    bodies = np.repeat(np.arange(len(each)), [len(some) for some, _, _ in each])
    order = np.argsort(which, kind="stable")
    cut = Cut(ends, normals, bodies, _away(ends)).some(order)
    starts = np.searchsorted(which[order], np.arange(len(tips) + 1))
    return [cut.some(np.arange(*starts[k : k + 2])) for k in range(len(tips))]


def _cut(body: Body, tips: Array, travel: Array, planes: Array) -> tuple[IntArray, Array, Array]:
    """Cut one body: numbers of places ``(k,)``, ends and normals of what is cut there."""
    T, mesh = inverse(body.T_world_body), body.mesh
    R = T[:3, :3]
    places, along, axes = apply(T, tips), travel @ R.T, planes @ R.T
    found = [(np.zeros(0, np.int64), np.zeros((0, 2, 2)), np.zeros((0, 2)))]
    for which, some in TriangleGrid.of(mesh).crossing(places, along, WIDE):
        corners = mesh.vertices[mesh.faces[some]] - places[which][:, None]
        height = np.einsum("kij,kj->ki", corners, along[which])
        height[np.abs(height) < _ON_PLANE] = _ON_PLANE
        above = height > 0
        # Some corners on either side: then two of three sides cross the plane, never one or three.
        is_cut = (above[:, 0] != above[:, 1]) | (above[:, 1] != above[:, 2])
        k, corners, height, above = which[is_cut], corners[is_cut], height[is_cut], above[is_cut]
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area = np.sqrt(np.einsum("ki,ki->k", normal, normal))
        normal *= mesh.outwards / np.maximum(area, _NO_AREA)[:, None]
        is_face = area > _NO_AREA
        is_face &= np.abs(np.einsum("ki,ki->k", normal, along[k])) < _END_FACE
        k, corners, height, above = k[is_face], corners[is_face], height[is_face], above[is_face]
        row, side = np.nonzero(above != above[:, _NEXT])
        start, after = corners[row, side], corners[row, _NEXT[side]]
        step = height[row, side] / (height[row, side] - height[row, _NEXT[side]])
        ends = np.einsum("kij,kj->ki", axes[k[row]], start + step[:, None] * (after - start))
        normals = np.einsum("kij,kj->ki", axes[k], normal[is_face])
        found.append((k, ends.reshape(-1, 2, 2), normals / lengths(normals)[:, None]))
    which, ends, normals = (np.concatenate(some) for some in zip(*found, strict=True))
    return which, ends, normals


def _away(ends: Array) -> Array:
    """How far faces with these ``ends (n, 2, 2)`` are from the wire's end ``(n,)``, m."""
    a, way = ends[:, 0], ends[:, 1] - ends[:, 0]
    size = np.maximum(way[:, 0] * way[:, 0] + way[:, 1] * way[:, 1], 1e-30)
    s = -(a[:, 0] * way[:, 0] + a[:, 1] * way[:, 1]) / size
    return lengths(a + np.minimum(np.maximum(s, 0.0), 1.0)[:, None] * way)


def lengths(v: Array) -> Array:
    """Length ``(n,)`` of ``v (n, 2)``: sums over two take most of their time to begin."""
    return np.asarray(np.sqrt(v[:, 0] * v[:, 0] + v[:, 1] * v[:, 1]))
