"""Containment: whether a mesh lies wholly within another, by winding number and rays."""

from __future__ import annotations

import itertools
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np

from pathsim.geometry.connected import connected
from pathsim.geometry.equal_rows import first_equal
from pathsim.geometry.mesh import Mesh
from pathsim.geometry.rays import crossings
from pathsim.transforms import Array, IntArray

#: Vertices so near each other are one, m.
_SAME_PLACE = 1e-6
#: Directions of the rays whose crossings are counted; none lies along an axis or a diagonal.
RAYS = np.array(
    [[0.61, 0.29, 0.74], [-0.33, 0.83, 0.45], [0.17, -0.57, 0.80], [-0.71, -0.23, -0.67],
     [0.43, 0.37, -0.82]]
)  # fmt: skip
RAYS /= np.linalg.norm(RAYS, axis=1, keepdims=True)


def winding_number(point: Array, vertices: Array, faces: np.ndarray) -> float:
    """How often closed triangles wind round ``point (3,)``: 0 outside, +-1 inside.

    Sum of solid angles over 4 pi (Van Oosterom and Strackee, 1983). Open meshes give what
    share of all directions they cover.
    """
    a, b, c = np.moveaxis(vertices[faces] - point, 1, 0)
    la, lb, lc = (np.linalg.norm(x, axis=-1) for x in (a, b, c))
    volume = (a * np.cross(b, c)).sum(axis=-1)
    below = (
        la * lb * lc
        + (a * b).sum(axis=-1) * lc
        + (b * c).sum(axis=-1) * la
        + (c * a).sum(axis=-1) * lb
    )
    return float(np.arctan2(volume, below).sum() / (2 * np.pi))


class Solid:
    """A mesh split into its connected components, for inside tests."""

    def __init__(self, mesh: Mesh) -> None:
        self._vertices = mesh.vertices
        #: For each vertex the number of the one that it is the same as; which component each
        #: triangle of the mesh belongs to ``(m,)``, -1 for those left out; and the lowest and the
        #: highest corner ``(parts + 1, 3)`` of each component and of the whole. The whole counts
        #: too: where a component falls apart, its halves only count together.
        self._welded, self._part_of, self._low, self._high = self._split(mesh)
        count = len(self._low) - 1
        if count == 1 and self._part_of.min() >= 0:
            self._parts = [mesh.faces]
        else:
            self._parts = [mesh.faces[self._part_of == part] for part in range(count)]
        whole = self._parts[0] if count == 1 else mesh.faces[self._part_of >= 0]
        self._bounded = (*self._parts, whole)
        # Of what was cut open nothing can be said to lie inside: ``joint_pairs.py`` sees to that.
        seen = [] if mesh.is_cut else [self._vertices[part[0, 0]] for part in self._parts]
        self.witnesses = np.array(seen).reshape(-1, 3)

    def _split(self, mesh: Mesh) -> tuple[IntArray, IntArray, Array, Array]:
        """Vertices that are one, the component of each triangle, and boxes (``__init__``)."""
        welded = _welded(mesh.vertices)
        part_of = _components(mesh.faces, welded)
        parts = [mesh.faces[part_of == part] for part in range(part_of.max() + 1)]
        corners = [mesh.vertices[part.ravel()] for part in (*parts, mesh.faces[part_of >= 0])]
        low, high = [c.min(axis=0) for c in corners], [c.max(axis=0) for c in corners]
        return welded, part_of, np.array(low), np.array(high)

    @cached_property
    def is_closed(self) -> bool:
        """Whether every component is: what stays apart from it cannot get in through a hole."""
        return all(self._is_closed(part) for part in self._parts)

    def _is_closed(self, part: np.ndarray) -> bool:
        """Tell whether each side of each triangle goes as often one way as the other."""
        corners = self._welded[part]
        start, end = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
        n = len(self._welded)
        return np.array_equal(np.sort(start * n + end), np.sort(end * n + start))

    def _winding(self, point: Array, part: np.ndarray) -> float:
        return winding_number(point, self._vertices, part)

    def _most_rays_cross_oddly(self, point: Array, part: np.ndarray) -> bool:
        """Count walls instead of turns: says inside though triangles face this way and that."""
        counts = crossings(point, RAYS, self._vertices[part], 0.0)
        return bool((counts % 2).sum() * 2 > len(RAYS))

    def holds(self, points: Array) -> bool:
        """Tell whether any of ``points (n, 3)`` is inside any component.

        Either orientation of the triangles counts, and so does a closed cavity: nothing
        can get into one without having crossed its wall.
        """
        outside = (points < self._low[:, None]) | (points > self._high[:, None])
        for part, point in np.argwhere(~outside.any(axis=-1)).tolist():
            if abs(self._winding(points[point], self._bounded[part])) > 0.5:
                return True
            if self._most_rays_cross_oddly(points[point], self._bounded[part]):
                return True
        return False


#: Solids by the mesh itself, never by its id, which may be given again to another mesh.
_SOLIDS: WeakKeyDictionary[Mesh, Solid] = WeakKeyDictionary()


def solid_of(mesh: Mesh) -> Solid:
    """Return the components of a mesh, split once."""
    if mesh not in _SOLIDS:
        _SOLIDS[mesh] = Solid(mesh)
    return _SOLIDS[mesh]


def _welded(vertices: Array) -> np.ndarray:
    """Return a number for each vertex ``(n,)``; vertices at one place have the same.

    A grid's border may run between two places that rounding pulled apart. Of the eight grids
    that are shifted by half a cell along some axes one keeps each such pair in one cell.
    """
    n = len(vertices)
    rows, columns = [], []
    for shift in itertools.product((0.0, 0.5), repeat=3):
        keys = np.floor(vertices / _SAME_PLACE + shift).astype(np.int64)
        rows.append(np.arange(n))
        columns.append(first_equal(keys)[1])
    return connected(np.concatenate(rows), np.concatenate(columns), n)


def _components(faces: np.ndarray, welded: np.ndarray) -> np.ndarray:
    """Return the number of the connected component of each of ``faces (m, 3)``.

    Each triangle counts once: drawn from both sides it would cancel out. The others are -1.
    """
    corners = welded[faces]
    once, _ = first_equal(np.sort(corners, axis=1))
    labels = connected(corners[once][:, [0, 1]].ravel(), corners[once][:, [1, 2]].ravel(),
                     len(welded))  # fmt: skip
    found = np.full(len(faces), -1)
    found[once] = np.unique(labels[corners[once, 0]], return_inverse=True)[1]
    return found
