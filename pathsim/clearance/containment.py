"""Whether a mesh lies wholly within another, where no surfaces meet."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.rays import crossings
from pathsim.model import Mesh
from pathsim.transforms import Array

#: Vertices so near each other are one, m.
_SAME_PLACE = 1e-6
#: Directions of the rays whose crossings are counted; none lies along an axis or a diagonal.
_RAYS = np.array(
    [[0.61, 0.29, 0.74], [-0.33, 0.83, 0.45], [0.17, -0.57, 0.80], [-0.71, -0.23, -0.67],
     [0.43, 0.37, -0.82]]
)  # fmt: skip
_RAYS /= np.linalg.norm(_RAYS, axis=1, keepdims=True)


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
        mesh = Mesh(mesh.vertices, _without_doubles(mesh))
        self._parts = _components(mesh)
        # The whole counts too: where a component falls apart, its halves only count together.
        self._all = mesh.faces
        self.witnesses = np.array([self._vertices[part[0, 0]] for part in self._parts])

    def _most_rays_cross_oddly(self, point: Array, part: np.ndarray) -> bool:
        """Count walls instead of turns: says inside though triangles face this way and that."""
        counts = crossings(point, _RAYS, self._vertices[part], 0.0)
        return bool((counts % 2).sum() * 2 > len(_RAYS))

    def holds(self, points: Array) -> bool:
        """Tell whether any of ``points (n, 3)`` is inside any component.

        Either orientation of the triangles counts, and so does a closed cavity: nothing
        can get into one without having crossed its wall.
        """
        for part in (*self._parts, self._all):
            corners = self._vertices[np.unique(part)]
            low, high = corners.min(axis=0), corners.max(axis=0)
            for point in points:
                if (point < low).any() or (point > high).any():
                    continue
                if abs(winding_number(point, self._vertices, part)) > 0.5:
                    return True
                if self._most_rays_cross_oddly(point, part):
                    return True
        return False


def _without_doubles(mesh: Mesh) -> np.ndarray:
    """Faces ``(m, 3)`` with each triangle once: drawn from both sides it would cancel out."""
    places, same = np.unique(np.round(mesh.vertices, 6), axis=0, return_inverse=True)
    del places
    corners = np.sort(same.reshape(-1)[mesh.faces], axis=1)
    _, first = np.unique(corners, axis=0, return_index=True)
    return np.asarray(mesh.faces[np.sort(first)])


def _components(mesh: Mesh) -> list[np.ndarray]:
    """Faces ``(m, 3)`` of each connected component; vertices at one place count as one."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    n = len(mesh.vertices)
    rows, columns = [mesh.faces[:, [0, 1]].ravel()], [mesh.faces[:, [1, 2]].ravel()]
    # Two grids, one shifted by half a cell: places nearer than a quarter of a cell share a cell
    # in one of them at least, so that rounding after a turn pulls no component apart.
    for shift in (0.0, 0.5):
        keys = np.floor(mesh.vertices / _SAME_PLACE + shift).astype(np.int64)
        _, first, same = np.unique(keys, axis=0, return_index=True, return_inverse=True)
        rows.append(np.arange(n))
        columns.append(first[same.reshape(-1)])
    row, column = np.concatenate(rows), np.concatenate(columns)
    graph = coo_matrix((np.ones(len(row)), (row, column)), shape=(n, n))
    _, labels = connected_components(graph, directed=False)
    of_face = labels[mesh.faces[:, 0]]
    return [mesh.faces[of_face == label] for label in np.unique(of_face)]
