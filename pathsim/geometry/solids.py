"""Simple solids as meshes that hold the true shape, never lie inside it.

They stand for links whose meshes are not to be had, for cables, and for the simple shapes that
a robot description may name. Corners lie outside the round shape, so that a distance to the mesh
is never more than to the shape.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from pathsim.errors import MeshError
from pathsim.geometry.mesh import Mesh
from pathsim.transforms import Array, apply, pose

_SIDES = 24
_RINGS = 5  # from the equator to a pole


def box(size: ArrayLike) -> Mesh:
    """Box of ``size (3,)`` m round the origin."""
    half = _positive(size, "a box") / 2
    corners = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * half
    quads = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    faces = [tri for a, b, c, d in quads for tri in ([a, b, c], [a, c, d])]
    return Mesh(corners, np.array(faces))


def cylinder(radius: float, length: float) -> Mesh:
    """Cylinder round z, its middle at the origin, m."""
    _positive([radius, length], "a cylinder")
    outer = radius / np.cos(np.pi / _SIDES)
    z = np.array([-length / 2, length / 2])
    return _stack(np.array([outer, outer]), z, (z[0], z[1]))


def ball(radius: float) -> Mesh:
    """Ball round the origin, m."""
    return capsule(np.zeros(3), np.zeros(3), radius)


def capsule(start: ArrayLike, end: ArrayLike, radius: float) -> Mesh:
    """All points within ``radius`` m of the line from ``start`` to ``end`` ``(3,)``."""
    return rod(start, end, radius, "a capsule")


def rod(
    start: ArrayLike,
    end: ArrayLike,
    radius: float,
    what: str = "a rod",
    *,
    flat_start: bool = False,
    flat_end: bool = False,
) -> Mesh:
    """All points within ``radius`` m of the line from ``start`` to ``end`` ``(3,)``.

    A flat end holds nothing beyond the plane through its end, square to the line. Raises
    MeshError for what has no size; ``what`` names it there.
    """
    _positive([radius], what)
    a, b = np.asarray(start, float), np.asarray(end, float)
    if not (np.isfinite(a).all() and np.isfinite(b).all()):
        raise MeshError(f"{what} needs finite ends")
    length = float(np.linalg.norm(b - a))
    if (flat_start or flat_end) and length <= 0:
        raise MeshError(f"{what} with a flat end needs a length")
    rise = np.linspace(0.0, np.pi / 2, _RINGS + 1)[:-1]
    size = radius * outward()
    low = np.zeros(1) if flat_start else -rise[::-1]
    high = np.zeros(1) if flat_end else rise
    if length == 0:  # both equators are one
        high = high[1:]
    heights = np.concatenate([size * np.sin(low), length + size * np.sin(high)])
    radii = size * np.cos(np.concatenate([low, high]))
    first = 0.0 if flat_start else -size
    last = length if flat_end else length + size
    straight = _stack(radii, heights, (first, last))
    return Mesh(apply(_along(a, b - a), straight.vertices), straight.faces)


@lru_cache(maxsize=1)
def outward() -> float:
    """How much farther out than its radius a round solid's corners lie, as a factor above 1.

    The nearest face of the unit ball decides: none may cut into the true shape.
    """
    rise = np.linspace(-np.pi / 2, np.pi / 2, 2 * _RINGS + 1)[1:-1]
    unit = _stack(np.cos(rise), np.sin(rise), (-1.0, 1.0))
    corners = unit.vertices[unit.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return 1.0 / float((normal * corners[:, 0]).sum(axis=1).min())


def together(meshes: Sequence[Mesh]) -> Mesh:
    """One mesh of several closed ones, which may overlap."""
    firsts = np.cumsum([0, *(len(one.vertices) for one in meshes[:-1])])
    faces = [one.faces + first for one, first in zip(meshes, firsts, strict=True)]
    return Mesh(np.vstack([one.vertices for one in meshes]), np.vstack(faces))


#: Places nearer than this to each other are one place, m.
_ONE_PLACE = 1e-6


def capsule_chain(points: ArrayLike, radius: float) -> Mesh:
    """All points within ``radius`` m of the line through ``points (n, 3)``, one after the other.

    One closed capsule a stretch; they overlap where two meet. Raises MeshError for fewer than
    two points, and where one point and the next are one place.
    """
    _positive([radius], "a chain of capsules")
    places = np.asarray(points, float)
    if places.ndim != 2 or places.shape[1:] != (3,) or len(places) < 2:
        raise MeshError(f"a chain of capsules needs two points or more, came {places.shape}")
    if not np.isfinite(places).all():
        raise MeshError("a chain of capsules needs finite points")
    stretches = np.linalg.norm(np.diff(places, axis=0), axis=1)
    for number in np.flatnonzero(stretches < _ONE_PLACE) + 1:
        raise MeshError(f"points {number} and {number + 1} of a chain are one place")
    return together([capsule(a, b, radius) for a, b in itertools.pairwise(places)])


def _stack(radii: Array, heights: Array, ends: tuple[float, float]) -> Mesh:
    """Rings of ``radii`` at ``heights``, closed by a point on the axis at each of ``ends``."""
    turn = 2 * np.pi * np.arange(_SIDES) / _SIDES
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    rings = [
        np.column_stack([circle * radius, np.full(_SIDES, height)])
        for radius, height in zip(radii, heights, strict=True)
    ]
    vertices = np.vstack([*rings, [[0, 0, ends[0]]], [[0, 0, ends[1]]]])
    i = np.arange(_SIDES)
    j = (i + 1) % _SIDES
    faces = []
    for ring in range(len(rings) - 1):
        a, b = ring * _SIDES, (ring + 1) * _SIDES
        faces += [np.column_stack([a + i, a + j, b + j]), np.column_stack([a + i, b + j, b + i])]
    last, bottom, top = (len(rings) - 1) * _SIDES, len(vertices) - 2, len(vertices) - 1
    faces.append(np.column_stack([j, i, np.full(_SIDES, bottom)]))
    faces.append(np.column_stack([last + i, last + j, np.full(_SIDES, top)]))
    return Mesh(vertices, np.vstack(faces))


def _along(start: Array, way: Array) -> Array:
    """Pose at ``start`` whose z runs along ``way``; upright where there is no way."""
    size = np.linalg.norm(way)
    z = way / size if size > 0 else np.array([0.0, 0.0, 1.0])
    x = np.cross(np.eye(3)[np.argmin(np.abs(z))], z)
    x /= np.linalg.norm(x)
    return pose(np.column_stack([x, np.cross(z, x), z]), start)


def _positive(values: ArrayLike, what: str) -> Array:
    sizes = np.asarray(values, float)
    if not (np.isfinite(sizes).all() and (sizes > 0).all()):
        raise MeshError(f"{what} needs sizes above zero, came {list(sizes)}")
    return sizes
