"""Triangles in frames of their own, in which a place has two numbers along and a height square.

Of a large mesh few triangles are ever near to anything: each gets its frame when it first is.
"""

from __future__ import annotations

import numpy as np

from pathsim.each_once import each_once
from pathsim.geometry.mesh import Mesh
from pathsim.transforms import Array, BoolArray, IntArray


class TriangleFrames:
    """Frames of a mesh's triangles: ``x`` along the longest side, ``z`` the normal."""

    def __init__(self, mesh: Mesh) -> None:
        # Not the mesh itself: it would never be forgotten.
        self._vertices, self._faces = mesh.vertices, mesh.faces
        count = len(mesh.faces)
        self._is_framed = np.zeros(count, dtype=bool)
        self._frames, self._origin = np.empty((count, 3, 3)), np.empty((count, 3))
        self._length, self._c = np.empty(count), np.empty((2, count))

    def normals(self, some: IntArray) -> Array:
        """Return unit normals ``(k, 3)`` as drawn; of what has no area one square to it."""
        self._frame(some)
        return np.asarray(self._frames[some, 2])

    def have_area(self, some: IntArray) -> BoolArray:
        """Tell of triangles whether they are more than a line or a point ``(k,)``."""
        self._frame(some)
        return np.asarray(self._c[1, some] > 0)

    def away(self, places: Array, some: IntArray) -> tuple[Array, Array]:
        """Distance of ``places (k, 3)`` from their triangles, and height over their planes, m."""
        u, v, height = self._local(places, some)
        flat = np.where(self._holds(u, v, some), 0.0, self._to_sides(u, v, some))
        return np.sqrt(flat + height**2), height

    def met(self, starts: Array, directions: Array, some: IntArray) -> Array:
        """How far along ``directions (k, 3)`` from ``starts (k, 3)`` lines meet their triangles.

        Also behind the start, negative; inf where they do not.
        """
        u, v, height = self._local(starts, some)
        du, dv, sink = (self._frames[some] @ directions[:, :, None])[:, :, 0].T
        with np.errstate(divide="ignore", invalid="ignore"):
            way = -height / sink
            inside = self._holds(u + way * du, v + way * dv, some)
        return np.where(inside, way, np.inf)

    def _frame(self, some: IntArray) -> None:
        """Put triangles ``(k,)`` in their frames, those that are not yet."""
        new = some[~self._is_framed[some]]
        if not len(new):
            return
        new = each_once(new)
        # The longest side lies along the frame's first axis: what is thin keeps its length.
        corners = self._vertices[self._faces[new]]
        sides = np.roll(corners, -1, axis=1) - corners
        first = np.linalg.norm(sides, axis=2).argmax(axis=1)
        turned = (first[:, None] + np.arange(3)) % 3
        corners = np.take_along_axis(corners, turned[:, :, None], axis=1)
        a, along, other = (
            corners[:, 0],
            corners[:, 1] - corners[:, 0],
            corners[:, 2] - corners[:, 0],
        )
        normal = np.cross(along, other)
        length = np.linalg.norm(along, axis=1)
        area = np.linalg.norm(normal, axis=1)
        is_flat = area <= 1e-12 * length**2
        x = along / np.where(length > 0, length, 1.0)[:, None]
        x[length == 0] = (1.0, 0.0, 0.0)
        z = normal / np.where(area > 0, area, 1.0)[:, None]
        z[is_flat] = _square_to(x[is_flat])
        y = np.cross(z, x)
        frames = np.stack([x, y, z], axis=1)
        self._frames[new], self._length[new] = frames, length
        self._origin[new] = (frames @ a[:, :, None])[:, :, 0]
        self._c[:, new] = (other * x).sum(axis=1), (other * y).sum(axis=1)
        self._c[1, new[is_flat]] = 0.0
        self._is_framed[new] = True

    def _local(self, places: Array, some: IntArray) -> tuple[Array, Array, Array]:
        """Return places in the frames of their triangles: along, along and square, ``(k,)``."""
        self._frame(some)
        u, v, height = ((self._frames[some] @ places[:, :, None])[:, :, 0] - self._origin[some]).T
        return u, v, height

    def _holds(self, u: Array, v: Array, some: IntArray) -> BoolArray:
        """Tell whether triangles hold the feet of their places ``(k,)``."""
        b, (cx, cy) = self._length[some], self._c[:, some]
        return np.asarray((v >= 0) & (cx * v <= cy * u) & ((cx - b) * v >= cy * (u - b)) & (cy > 0))

    def _to_sides(self, u: Array, v: Array, some: IntArray) -> Array:
        """Square of the distance ``(k,)`` of feet to their triangles' sides."""
        b, (cx, cy) = self._length[some], self._c[:, some]
        first = _to_side(u, v, b, 0.0)
        second = _to_side(u - b, v, cx - b, cy)
        return np.minimum(np.minimum(first, second), _to_side(u, v, cx, cy))


def _to_side(u: Array, v: Array, x: Array, y: Array | float) -> Array:
    """Square of the distance of ``(u, v)`` from the side from 0 to ``(x, y)``."""
    square = x * x + y * y
    share = (u * x + v * y) / np.where(square > 0, square, 1.0)
    share = np.minimum(np.maximum(share, 0.0), 1.0)
    return np.asarray((u - share * x) ** 2 + (v - share * y) ** 2)


def _square_to(x: Array) -> Array:
    """Return unit vectors square to ``x (n, 3)``."""
    least = np.abs(x).argmin(axis=1)
    found = np.cross(x, np.eye(3)[least])
    return np.asarray(found / np.linalg.norm(found, axis=1, keepdims=True))
