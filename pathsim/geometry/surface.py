"""How far places are from a mesh's surface, on which side of it, and where lines first meet it.

Plain arithmetic on triangles near by, the same whichever engine measures: each triangle has a
frame of its own, in which a place has two numbers along it and one, its height, square to it.
"""

from __future__ import annotations

from typing import ClassVar, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.transforms import Array, BoolArray

#: Round a group of places triangles are looked for this far away, then farther, m.
_ROUNDS = (2e-3, 8e-3, 32e-3)
#: So many places times triangles are worked out in one go.
_AT_ONCE = 1_000_000
#: Planes whose normals differ by less go on in each other, as a cosine.
_SAME_FACE = np.cos(np.radians(20.0))
#: Triangles are equally near within this, m.
_TIE = 1e-9


class Nearest(NamedTuple):
    """Of n places: ``distance (n,)`` m to the surface, ``height (n,)`` and ``normal (n, 3)``.

    ``height``: of the nearest triangles that which sees the place most squarely sees it this
    far before its face (positive) or behind it, m; ``normal``: of that triangle.
    """

    distance: Array
    height: Array
    normal: Array


class PartSurface:
    """A mesh's triangles, each in a frame of its own; everything is in the mesh's frame."""

    _known: ClassVar[WeakKeyDictionary[Mesh, PartSurface]] = WeakKeyDictionary()

    def __init__(self, mesh: Mesh) -> None:
        # Not the mesh itself: it would never be forgotten.
        self._vertices, self._faces, self._outwards = mesh.vertices, mesh.faces, mesh.outwards
        count = len(mesh.faces)
        self._low, self._high = np.empty((3, count)), np.empty((3, count))
        for k in range(3):
            first, second, third = (mesh.vertices[mesh.faces[:, n], k] for n in range(3))
            self._low[k] = np.minimum(np.minimum(first, second), third)
            self._high[k] = np.maximum(np.maximum(first, second), third)
        # Of a large part few triangles are ever near: they get their frames when they are.
        self._is_framed = np.zeros(count, dtype=bool)
        self._frames, self._origin = np.empty((count, 3, 3)), np.empty((count, 3))
        self._length, self._c = np.empty(count), np.empty((2, count))

    def _framed(self, some: np.ndarray) -> np.ndarray:
        """Return the same triangles ``(k,)``, each in its frame from now on."""
        new = some[~self._is_framed[some]]
        if not len(new):
            return some
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
        return some

    @classmethod
    def of(cls, mesh: Mesh) -> PartSurface:
        """Return the surface of a mesh, made once."""
        if mesh not in cls._known:
            cls._known[mesh] = cls(mesh)
        return cls._known[mesh]

    def nearest(self, places: Array) -> Nearest:
        """Return how far ``places (n, 3)`` are from the surface: exact at any distance."""
        count = len(places)
        found = Nearest(np.full(count, np.inf), np.zeros(count), np.zeros((count, 3)))
        left = np.arange(len(places))
        within = self._near(places, _ROUNDS[-1])
        for reach in _ROUNDS:
            for group in _groups(left, len(within)):
                which, some = self._pairs(places[group], reach, within)
                self._put(found, places, group[which], some)
            # Whatever was not looked at is farther than the reach.
            left = left[~(found.distance[left] <= reach)]
        for place in left.tolist():
            some = self._candidates(places[place])
            self._put(found, places, np.full(len(some), place), some)
        return found

    def to_other_face(self, places: Array, normals: Array) -> Array:
        """How far ``places (n, 3)`` are from a face that is not the one they lie on, ``(n,)`` m.

        ``normals (n, 3)``: of that one. The back of a plate is not another face, nor is what goes
        on nearly in the same plane. inf where there is none.
        """
        found = np.full(len(places), np.inf)
        left = np.arange(len(places))
        within = self._near(places, _ROUNDS[-1])
        for reach in (*_ROUNDS, np.inf):
            # Where nothing is near, each place looks at everything.
            among = within if np.isfinite(reach) else self._framed(np.arange(len(self._faces)))
            for group in _groups(left, len(among)):
                which, some = self._pairs(places[group], reach, among)
                which = group[which]
                turned = np.abs((self._frames[some, 2] * normals[which]).sum(axis=1))
                is_other = (turned < _SAME_FACE) & (self._c[1, some] > 0)
                which, some = which[is_other], some[is_other]
                np.minimum.at(found, which, self._away(places[which], some)[0])
            left = left[~(found[left] <= reach)]
            if not len(left):
                break
        return found

    def first_met(self, starts: Array, directions: Array, longest: float) -> Array:
        """How far along unit ``directions (n, 3)`` from ``starts (n, 3)`` the surface is, ``(n,)``.

        inf where it is not met within ``longest`` m.
        """
        ends = starts + longest * directions
        low, high = np.minimum(starts, ends), np.maximum(starts, ends)
        within = self._near(np.concatenate([starts, ends]), 0.0)
        met = np.full(len(starts), np.inf)
        for group in _groups(np.arange(len(starts)), len(within)):
            which, some = self._overlapping(low[group], high[group], within)
            which = group[which]
            frames = self._frames[some]
            u, v, height = self._local(starts[which], some)
            du, dv, sink = (frames @ directions[which][:, :, None])[:, :, 0].T
            with np.errstate(divide="ignore", invalid="ignore"):
                way = -height / sink
                inside = self._holds(u + way * du, v + way * dv, some)
            is_met = inside & (way >= 0) & (way <= longest)
            np.minimum.at(met, which[is_met], way[is_met])
        return met

    def _near(self, places: Array, reach: float) -> np.ndarray:
        """Return which triangles' boxes come within ``reach`` of the box of all places."""
        low, high = places.min(axis=0) - reach, places.max(axis=0) + reach
        is_near = np.ones(len(self._faces), dtype=bool)
        for k in range(3):
            is_near &= self._low[k] <= high[k]
            is_near &= self._high[k] >= low[k]
        return self._framed(np.flatnonzero(is_near))

    def _pairs(
        self, places: Array, reach: float, among: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return pairs of places and triangles whose boxes come within ``reach`` of them."""
        return self._overlapping(places - reach, places + reach, among)

    def _overlapping(
        self, low: Array, high: Array, among: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return pairs of boxes ``low, high (n, 3)`` and triangles that overlap, box by box."""
        is_near = np.ones((len(low), len(among)), dtype=bool)
        for k in range(3):
            is_near &= self._low[k, among] <= high[:, k, None]
            is_near &= self._high[k, among] >= low[:, k, None]
        which, some = np.nonzero(is_near)
        return which, among[some]

    def _candidates(self, place: Array) -> np.ndarray:
        """Return the triangles that may be nearest to a place ``(3,)``, by their boxes."""
        low, high = self._low.T, self._high.T
        gaps = np.maximum(np.maximum(low - place, place - high), 0.0)
        far = np.maximum(np.abs(low - place), np.abs(high - place))
        surely = np.linalg.norm(far, axis=1).min()
        return self._framed(np.flatnonzero(np.linalg.norm(gaps, axis=1) <= surely))

    def _put(self, found: Nearest, places: Array, which: np.ndarray, some: np.ndarray) -> None:
        """Put in what pairs of places, in order, and triangles tell: all of a place's at once."""
        if not len(which):
            return
        away, height = self._away(places[which], some)
        first = np.flatnonzero(np.append(True, which[1:] != which[:-1]))
        row = np.cumsum(np.append(0, which[1:] != which[:-1]))
        least = np.minimum.reduceat(away, first)
        squarely = np.where(away <= least[row] + _TIE, np.abs(height), -1.0)
        is_it = squarely == np.maximum.reduceat(squarely, first)[row]
        found.distance[which[first]] = least
        found.height[which[is_it]] = self._outwards * height[is_it]
        found.normal[which[is_it]] = self._frames[some[is_it], 2]

    def _away(self, places: Array, some: np.ndarray) -> tuple[Array, Array]:
        """Distance of places from their triangles, and the height over their planes, ``(k,)``."""
        u, v, height = self._local(places, some)
        flat = np.where(self._holds(u, v, some), 0.0, self._to_sides(u, v, some))
        return np.sqrt(flat + height**2), height

    def _local(self, places: Array, some: np.ndarray) -> tuple[Array, Array, Array]:
        """Return places in the frames of their triangles: along, along and square, ``(k,)``."""
        u, v, height = ((self._frames[some] @ places[:, :, None])[:, :, 0] - self._origin[some]).T
        return u, v, height

    def _holds(self, u: Array, v: Array, some: np.ndarray) -> BoolArray:
        """Tell whether triangles hold the feet of their places ``(k,)``."""
        b, (cx, cy) = self._length[some], self._c[:, some]
        return np.asarray((v >= 0) & (cx * v <= cy * u) & ((cx - b) * v >= cy * (u - b)) & (cy > 0))

    def _to_sides(self, u: Array, v: Array, some: np.ndarray) -> Array:
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


def _groups(which: np.ndarray, triangles: int) -> list[np.ndarray]:
    """Cut places into groups that are worked out in one go; neighbours stay together."""
    size = max(1, min(len(which), _AT_ONCE // max(triangles, 1)))
    return [which[k : k + size] for k in range(0, len(which), size)]
