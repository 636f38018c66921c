"""Exact distances of points, segments and triangles, with the points that are nearest.

Every function returns ``(distance, point on the first, point on the second)``. Degenerate
triangles and segments are allowed: they count as the segment or point that they are. Methods:
Ericson, Real-Time Collision Detection, 2005, ch. 5.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

import numpy as np

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import (
    KernelArray,
    Vector,
    add,
    along,
    between,
    corner,
    cross,
    dot,
    placed,
    sub,
)

Nearest: TypeAlias = tuple[float, Vector, Vector]
Triangle: TypeAlias = tuple[Vector, Vector, Vector]

#: A triangle whose height is below this share of its longest side has no inside; leaving the
#: inside out moves its distance by no more than that height.
_FLAT = 1e-12
#: A triangle whose height is above this share of its longest side has signs that are sure.
_BROAD = 1e-3


class Corner(NamedTuple):
    """A triangle from its first corner: ``ab``, ``ac``, their vector product and its square.

    ``broad``: 1 where signs of places on it are sure, -1 where it has no inside, else 0.
    """

    a: Vector
    ab: Vector
    ac: Vector
    normal: Vector
    size: float
    broad: int


@kernel
def _from_corner(t: Triangle) -> Corner:
    ab, ac = sub(t[1], t[0]), sub(t[2], t[0])
    n = cross(ab, ac)
    size = dot(n, n)
    longest = max(dot(ab, ab), dot(ac, ac))
    broad = -1
    if size > _BROAD * _BROAD * longest * longest:
        broad = 1
    elif size > _FLAT * _FLAT * longest * longest:
        broad = 0
    return Corner(t[0], ab, ac, n, size, broad)


@kernel
def _to_segment(p: Vector, a: Vector, d: Vector) -> tuple[float, Vector]:
    """Square of the distance of a point to the segment from a along d, and the nearest point."""
    size = dot(d, d)
    s = 0.0
    if size > 0.0:
        s = min(max(dot(sub(p, a), d) / size, 0.0), 1.0)
    q = along(a, s, d)
    r = sub(p, q)
    return dot(r, r), q


@kernel
def _to_triangle(p: Vector, t: Corner) -> tuple[float, Vector]:
    """Square of the distance of a point to a triangle, and the nearest point.

    Straight above it, or to one of its sides.
    """
    if t.broad >= 0:
        ap = sub(p, t.a)
        # Barycentric shares of the foot of the perpendicular, times the square of the normal.
        v, w = dot(cross(ap, t.ac), t.normal), dot(cross(t.ab, ap), t.normal)
        u = t.size - v - w
        if v >= 0.0 and w >= 0.0 and u >= 0.0:
            share = 1.0 / t.size
            q = along(along(t.a, v * share, t.ab), w * share, t.ac)
            r = sub(p, q)
            return dot(r, r), q
        if t.broad > 0:
            # What is nearest lies on a side that the foot is beyond: were it inside another
            # side, the foot would be beyond that one. Of a sliver the signs might be rounding.
            if v >= 0.0 and u >= 0.0:
                return _to_segment(p, t.a, t.ab)
            if w >= 0.0 and u >= 0.0:
                return _to_segment(p, t.a, t.ac)
            if v >= 0.0 and w >= 0.0:
                return _to_segment(p, add(t.a, t.ab), sub(t.ac, t.ab))
    best, q = _to_segment(p, t.a, t.ab)
    other, y = _to_segment(p, add(t.a, t.ab), sub(t.ac, t.ab))
    if other < best:
        best, q = other, y
    other, y = _to_segment(p, t.a, t.ac)
    if other < best:
        best, q = other, y
    return best, q


@kernel
def point_segment(p: Vector, a: Vector, b: Vector) -> Nearest:
    """Distance of a point to the segment a, b."""
    square, q = _to_segment(p, a, sub(b, a))
    return float(np.sqrt(square)), p, q


@kernel
def point_triangle(p: Vector, a: Vector, b: Vector, c: Vector) -> Nearest:
    """Distance of a point to a triangle."""
    square, q = _to_triangle(p, _from_corner((a, b, c)))
    return float(np.sqrt(square)), p, q


@kernel
def _inner_segments(a: Vector, u: Vector, c: Vector,
                    v: Vector) -> tuple[float, Vector, Vector]:  # fmt: skip
    """Square of the distance of segments from a along u and from c along v, nearest points inside.

    Infinite where they are not inside both: then one of the four ends is nearest, or as near.
    Nearly parallel segments too have an end that is as near, to rounding.
    """
    r, uu, vv, uv = sub(a, c), dot(u, u), dot(v, v), dot(u, v)
    determinant = uu * vv - uv * uv
    ur, vr = dot(u, r), dot(v, r)
    s, t = uv * vr - vv * ur, uu * vr - uv * ur
    if not (determinant > 0.0 and 0.0 <= s <= determinant and 0.0 <= t <= determinant):
        return np.inf, a, c
    share = 1.0 / determinant
    p, q = along(a, s * share, u), along(c, t * share, v)
    d = sub(p, q)
    return dot(d, d), p, q


@kernel
def triangle_at(triangles: KernelArray, i: int) -> Triangle:
    """Triangle ``i`` of a mesh."""
    return (corner(triangles, i, 0), corner(triangles, i, 1), corner(triangles, i, 2))


@kernel
def triangle_placed(poses: KernelArray, which: int, triangles: KernelArray, i: int) -> Triangle:
    """Triangle ``i`` of a mesh that is at pose ``which``."""
    return (
        placed(poses, which, corner(triangles, i, 0)),
        placed(poses, which, corner(triangles, i, 1)),
        placed(poses, which, corner(triangles, i, 2)),
    )


@kernel
def crosses(a: Vector, b: Vector, t: Triangle, n: Vector) -> tuple[bool, Vector]:
    """Tell whether segment a, b goes through a triangle with normal n, and where.

    Segments that lie in its plane cross its sides instead, which the distances of sides see.
    """
    above, below = dot(n, sub(a, t[0])), dot(n, sub(b, t[0]))
    if (above > 0.0 and below > 0.0) or (above < 0.0 and below < 0.0) or above == below:
        return False, a
    p = between(a, b, above / (above - below))
    for k in range(3):
        side = sub(t[(k + 1) % 3], t[k])
        if dot(cross(side, sub(p, t[k])), n) < 0.0:
            return False, a
    return True, p


@kernel
def _one_side(t: Triangle, a: Vector, n: Vector) -> bool:
    """Tell whether a triangle lies wholly on one side of the plane through a, square to n."""
    x, y, z = dot(n, sub(t[0], a)), dot(n, sub(t[1], a)), dot(n, sub(t[2], a))
    return (x > 0.0 and y > 0.0 and z > 0.0) or (x < 0.0 and y < 0.0 and z < 0.0)


@kernel
def _cross_each_other(t: Triangle, u: Triangle) -> tuple[bool, Vector]:
    """Tell whether a side of one of two triangles goes through the other, and where."""
    n = cross(sub(u[1], u[0]), sub(u[2], u[0]))
    m = cross(sub(t[1], t[0]), sub(t[2], t[0]))
    if _one_side(t, u[0], n) or _one_side(u, t[0], m):
        return False, t[0]
    for k in range(3):
        through, x = crosses(t[k], t[(k + 1) % 3], u, n)
        if through:
            return True, x
        through, x = crosses(u[k], u[(k + 1) % 3], t, m)
        if through:
            return True, x
    return False, t[0]


#: Corners may lie this far past a plane that parts two triangles, m: the rounding of a dot product.
_ROUNDING = 1e-13
#: What is nearer than this, m, may touch: no plane is trusted to part it.
_TOUCHING = 1e-12


@kernel
def _parted(t: Triangle, u: Triangle, p: Vector, q: Vector, square: float) -> bool:
    """Tell whether planes through p and q, square to the way between them, part two triangles.

    Then no points of the two are nearer than p and q are (the separating planes of convex sets).
    """
    d = sub(p, q)
    past = -_ROUNDING * np.sqrt(square)
    for k in range(3):
        if dot(d, sub(t[k], p)) < past or dot(d, sub(q, u[k])) < past:
            return False
    return square > _TOUCHING * _TOUCHING


@kernel
def triangle_triangle(t: Triangle, u: Triangle) -> Nearest:
    """Distance of two triangles; 0 where they touch or cross.

    Unless one goes through the other, the nearest points lie inside two sides, or one of them
    is a corner, which the distances of corners to the whole other triangle cover. What parts
    the triangles is nearest: nothing else is looked at then.
    """
    best, p, q = np.inf, t[0], u[0]
    there, here = _from_corner(t), _from_corner(u)
    for i in range(3):
        other, y = _to_triangle(t[i], here)
        if other < best:
            best, p, q = other, t[i], y
    for i in range(3):
        other, x = _to_triangle(u[i], there)
        if other < best:
            best, p, q = other, x, u[i]
    if _parted(t, u, p, q, best):
        return float(np.sqrt(best)), p, q
    for i in range(3):
        side = sub(t[(i + 1) % 3], t[i])
        for j in range(3):
            other, x, y = _inner_segments(t[i], side, u[j], sub(u[(j + 1) % 3], u[j]))
            if other < best:
                best, p, q = other, x, y
    if _parted(t, u, p, q, best):
        return float(np.sqrt(best)), p, q
    through, x = _cross_each_other(t, u)
    if through:
        return 0.0, x, x
    return float(np.sqrt(best)), p, q
