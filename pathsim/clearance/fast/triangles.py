"""Exact distances of points, segments and triangles, with the points that are nearest.

Every function returns ``(distance, point on the first, point on the second)``. Degenerate
triangles and segments are allowed: they count as the segment or point that they are. Methods:
Ericson, Real-Time Collision Detection, 2005, ch. 5.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np

from pathsim.clearance.fast.jit import kernel
from pathsim.clearance.fast.vectors import Vector, along, between, cross, dot, length, sub

Nearest: TypeAlias = tuple[float, Vector, Vector]
Triangle: TypeAlias = tuple[Vector, Vector, Vector]

#: A triangle whose height is below this share of its longest side has no inside; leaving the
#: inside out moves its distance by no more than that height.
_FLAT = 1e-12


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
def segment_segment(a: Vector, b: Vector, c: Vector, d: Vector) -> Nearest:
    """Distance of segments a, b and c, d.

    The quadratic is convex, so the clamped minimum along one of them given the other's clamped
    place, in turn, is the minimum; nearly parallel ones fall back on their four ends.
    """
    u, v, r = sub(b, a), sub(d, c), sub(a, c)
    uu, vv, uv = dot(u, u), dot(v, v), dot(u, v)
    ur, vr = dot(u, r), dot(v, r)
    best, p, q = point_segment(a, c, d)
    other, x, y = point_segment(b, c, d)
    if other < best:
        best, p, q = other, x, y
    other, x, y = point_segment(c, a, b)
    if other < best:
        best, p, q = other, y, x
    other, x, y = point_segment(d, a, b)
    if other < best:
        best, p, q = other, y, x
    determinant = uu * vv - uv * uv
    if determinant > 0.0:
        s = (uv * vr - vv * ur) / determinant
        t = (uu * vr - uv * ur) / determinant
        # Outside of [0, 1] the minimum lies on the border, which the four ends cover.
        if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0:
            x, y = along(a, s, u), along(c, t, v)
            other = length(sub(x, y))
            if other < best:
                best, p, q = other, x, y
    return best, p, q


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
        if v >= 0.0 and w >= 0.0 and v + w <= 1.0:
            q = along(along(a, v, ab), w, ac)
            return length(sub(p, q)), p, q
    best, _, q = point_segment(p, a, b)
    other, _, y = point_segment(p, b, c)
    if other < best:
        best, q = other, y
    other, _, y = point_segment(p, c, a)
    if other < best:
        best, q = other, y
    return best, p, q


@kernel
def crosses(a: Vector, b: Vector, t: Triangle) -> tuple[bool, Vector]:
    """Tell whether segment a, b goes through a triangle, and where.

    Segments that lie in its plane cross its sides instead, which the distances of sides see.
    """
    n = cross(sub(t[1], t[0]), sub(t[2], t[0]))
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
def segment_triangle(a: Vector, b: Vector, t: Triangle) -> Nearest:
    """Distance of segment a, b to a triangle."""
    through, x = crosses(a, b, t)
    if through:
        return 0.0, x, x
    best, p, q = point_triangle(a, t[0], t[1], t[2])
    other, x, y = point_triangle(b, t[0], t[1], t[2])
    if other < best:
        best, p, q = other, x, y
    for k in range(3):
        other, x, y = segment_segment(a, b, t[k], t[(k + 1) % 3])
        if other < best:
            best, p, q = other, x, y
    return best, p, q


@kernel
def triangle_triangle(t: Triangle, u: Triangle) -> Nearest:
    """Distance of two triangles; 0 where they touch or cross.

    Unless one goes through the other, the nearest points lie on two sides or on a corner of
    one and the other's inside.
    """
    for k in range(3):
        through, x = crosses(t[k], t[(k + 1) % 3], u)
        if through:
            return 0.0, x, x
        through, x = crosses(u[k], u[(k + 1) % 3], t)
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
            other, x, y = segment_segment(t[i], t[(i + 1) % 3], u[j], u[(j + 1) % 3])
            if other < best:
                best, p, q = other, x, y
    return best, p, q
