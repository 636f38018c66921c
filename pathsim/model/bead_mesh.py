"""A closed mesh round a bead: its outline swept along the way of the wire's end, never inside it.

Between two stations the true bead is bent and turned, the mesh is flat. With ``d`` the angle that
the section turns between two stations, ``R`` how far its farthest corner is from the line and ``e``
its longest edge, a corner leaves its chord by no more than R (1 - cos d), the line leaves its own
by r (1 - cos(d / 2)), and a quarter turned by d leaves its two triangles by e sin(d) / 4. The
outline is grown by all three.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from pathsim.geometry.mesh import Mesh
from pathsim.model.bead_section import BeadSection
from pathsim.transforms import Array

#: Largest turn of the section from station to station, rad.
STEP = np.radians(3.0)
#: An arc of less than so many times the farthest corner has rings that may cut each other.
_TIGHT = 1.05
#: What rounding may take away, m.
_ROUNDED = 1e-6


def bead_mesh(
    section: BeadSection, tips: Array, along: Array, up: Array, turned: float, radius: float
) -> Mesh:
    """Return a mesh that holds the bead, with ends as round as the section is high.

    ``tips (n, 3)`` m at stations; unit ``along``, ``up`` ``(n, 3)``, square to each other.
    ``turned`` rad: the most that the section turns from station to station; ``radius`` m: of the
    arc, inf on a line.
    """
    arrays = np.ascontiguousarray(np.stack([tips, along, up]))
    return _mesh(section, arrays.tobytes(), len(tips), turned, radius)


@lru_cache(maxsize=500)
def _mesh(section: BeadSection, stations: bytes, count: int, turned: float, radius: float) -> Mesh:
    """Kept by its numbers: a cell edited elsewhere has the same mesh, and what is known of it."""
    tips, along, up = np.frombuffer(stations).reshape(3, count, 3)
    outline = section.outline(_grown(section, turned, radius))
    left = np.cross(up, along)
    first, last = (
        tips[0] - section.half_width * along[0],
        tips[-1] + section.half_width * along[-1],
    )
    places = np.concatenate([first[None], tips, last[None]])
    lefts, ups = (np.concatenate([v[:1], v, v[-1:]]) for v in (left, up))
    rings = (
        places[:, None] + outline[:, 0, None] * lefts[:, None] + outline[:, 1, None] * ups[:, None]
    )
    if radius < _TIGHT * section.farthest:  # the rings of so tight an arc cut each other
        return _hull(rings.reshape(-1, 3))
    return _tube(rings)


def together(meshes: Sequence[Mesh]) -> Mesh:
    """Return closed meshes as one: what lies in any of them lies in it."""
    if len(meshes) == 1:
        return meshes[0]
    first = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    faces = [mesh.faces + int(k) for mesh, k in zip(meshes, first[:-1], strict=True)]
    vertices = np.concatenate([mesh.vertices for mesh in meshes])
    return _known(vertices.tobytes(), np.vstack(faces).tobytes())


@lru_cache(maxsize=500)
def _known(vertices: bytes, faces: bytes) -> Mesh:
    """Kept by its numbers, as each of them is."""
    return Mesh(
        np.frombuffer(vertices).reshape(-1, 3),
        np.frombuffer(faces, dtype=np.int64).reshape(-1, 3),
        is_fleeting=True,
    )


def _grown(section: BeadSection, turned: float, radius: float) -> float:
    """How much the outline is grown so that flat faces hold what is bent, m."""
    corners = section.outline()
    edge = float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).max())
    bent = 0.0 if np.isinf(radius) else radius * (1 - np.cos(turned / 2))
    return float(
        bent + section.farthest * (1 - np.cos(turned)) + edge * np.sin(turned) / 4 + _ROUNDED
    )


def _tube(rings: Array) -> Mesh:
    """Return rings ``(n, m, 3)`` joined and closed at both ends, faces outwards."""
    n, m = rings.shape[:2]
    k, j = np.meshgrid(np.arange(n - 1), np.arange(m), indexing="ij")
    a, b = (k * m + j).ravel(), (k * m + (j + 1) % m).ravel()
    c, d = a + m, b + m
    fan = np.arange(1, m - 1)
    first = np.column_stack([np.zeros_like(fan), fan + 1, fan])
    last = np.column_stack([np.zeros_like(fan), fan, fan + 1]) + (n - 1) * m
    faces = np.vstack([np.column_stack([a, b, c]), np.column_stack([b, d, c]), first, last])
    return Mesh(rings.reshape(-1, 3), faces, is_fleeting=True)


def _hull(points: Array) -> Mesh:
    """Return the convex hull of points ``(n, 3)``, faces outwards."""
    from scipy.spatial import ConvexHull  # takes long, and hardly any bead asks for it

    hull = ConvexHull(points)
    faces = np.sort(hull.simplices, axis=1)
    corners = points[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    is_inward = (normals * hull.equations[:, :3]).sum(axis=1) < 0
    faces[is_inward] = faces[is_inward][:, ::-1]
    return Mesh(points, faces, is_fleeting=True)
