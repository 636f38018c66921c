"""Exact distances of points, segments and triangles, with the points that are nearest.

Every function returns ``(distance, point on the first, point on the second)``. Degenerate
triangles and segments are allowed: they count as the segment or point that they are. Methods:
Ericson, Real-Time Collision Detection, 2005, ch. 5.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import Vector, along, between, cross, dot, length, sub

Nearest: TypeAlias = tuple[float, Vector, Vector]
Triangle: TypeAlias = tuple[Vector, Vector, Vector]

#: A triangle whose height is below this share of its longest side has no inside; leaving the
#: inside out moves its distance by no more than that height.
_FLAT = 1e-12
#: A triangle whose height is above this share of its longest side has signs that are sure.
_BROAD = 1e-3


@kernel
def point_segment(p: Vector, a: Vector, b: Vector) -> Nearest:
    """Distance of a point to the segment a, b."""
    d = sub(b, a)
    size = dot(d, d)
    s = 0.0
    if size > 0.0:
        s = min(max(dot(sub(p, a), d) / size, 0.0), 1.0)
    q = along(a, s, d)
    return length(sub(p, q)), p, q


@kernel
def inner_segments(a: Vector, b: Vector, c: Vector, d: Vector) -> Nearest:
    """Distance of segments a, b and c, d where both nearest points lie inside them.

    Infinite where they do not: then one of the four ends is nearest, or as near. Nearly
    parallel segments too have an end that is as near, to rounding.
    """
    u, v, r = sub(b, a), sub(d, c), sub(a, c)
    uu, vv, uv = dot(u, u), dot(v, v), dot(u, v)
    determinant = uu * vv - uv * uv
    if not determinant > 0.0:
        return np.inf, a, c
    ur, vr = dot(u, r), dot(v, r)
    s = (uv * vr - vv * ur) / determinant
    t = (uu * vr - uv * ur) / determinant
    if not (0.0 <= s <= 1.0 and 0.0 <= t <= 1.0):
        return np.inf, a, c
    p, q = along(a, s, u), along(c, t, v)
    return length(sub(p, q)), p, q


@kernel
def point_triangle(p: Vector, a: Vector, b: Vector, c: Vector) -> Nearest:
    """Distance of a point to a triangle: straight above it, or to one of its sides."""
    ab, ac = sub(b, a), sub(c, a)
    n = cross(ab, ac)
    size = dot(n, n)
    longest = max(dot(ab, ab), dot(ac, ac))
    if size > _FLAT * _FLAT * longest * longest:
        ap = sub(p, a)
        # Barycentric shares of the foot of the perpendicular.
        v = dot(cross(ap, ac), n) / size
        w = dot(cross(ab, ap), n) / size
        u = 1.0 - v - w
        if v >= 0.0 and w >= 0.0 and u >= 0.0:
            q = along(along(a, v, ab), w, ac)
            return length(sub(p, q)), p, q
        if size > _BROAD * _BROAD * longest * longest:
            # What is nearest lies on a side that the foot is beyond: were it inside another
            # side, the foot would be beyond that one. Of a sliver the signs might be rounding.
            if v >= 0.0 and u >= 0.0:
                return point_segment(p, a, b)
            if w >= 0.0 and u >= 0.0:
                return point_segment(p, a, c)
            if v >= 0.0 and w >= 0.0:
                return point_segment(p, b, c)
    best, _, q = point_segment(p, a, b)
    other, _, y = point_segment(p, b, c)
    if other < best:
        best, q = other, y
    other, _, y = point_segment(p, c, a)
    if other < best:
        best, q = other, y
    return best, p, q


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


@kernel
def triangle_triangle(t: Triangle, u: Triangle) -> Nearest:
    """Distance of two triangles; 0 where they touch or cross.

    Unless one goes through the other, the nearest points lie inside two sides, or one of them
    is a corner, which the distances of corners to the whole other triangle cover.
    """
    through, x = _cross_each_other(t, u)
    if through:
        return 0.0, x, x
    best, p, q = np.inf, t[0], u[0]
    for i in range(3):
        other, x, y = point_triangle(t[i], u[0], u[1], u[2])
        if other < best:
            best, p, q = other, x, y
        other, y, x = point_triangle(u[i], t[0], t[1], t[2])
        if other < best:
            best, p, q = other, x, y
        for j in range(3):
            other, x, y = inner_segments(t[i], t[(i + 1) % 3], u[j], u[(j + 1) % 3])
            if other < best:
                best, p, q = other, x, y
    return best, p, q
