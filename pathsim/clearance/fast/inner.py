"""How near a swept sphere can come to a mesh: the test of inner nodes.

The set S: the centre of a link's sphere on its way along the chord, ``m + [-1, 1] h``, widened
by the slab ``[-1, 1] w1 + [-1, 1] w2`` of ``motion.py``. Bounds from below on its distance:

* to a box: S lies in the box round m with half sides ``|h| + |w1| + |w2|`` (each coordinate);
  the gap of two boxes is the length of the gaps of their coordinates. And for any unit n the
  distance is at least ``|n.(m - middle)| - (half sides of the box).|n| - |n.h| - |n.w1| -
  |n.w2|``; the three ``n = e_i x h`` leave h out, which a long chord needs.
* to a triangle: with d the distance of m and n the direction from its nearest point, all of the
  triangle lies behind the plane through that point square to n, so that the distance of S is
  at least ``d - |n.h| - |n.w1| - |n.w2|``. The same for the nearest points of the chord (a
  convex set, hence on its own side of such planes) and the triangle, without h.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.fast.build import COUNT, FIRST, LEFT, RIGHT
from pathsim.clearance.fast.jit import kernel
from pathsim.clearance.fast.records import BoxTree
from pathsim.clearance.fast.triangles import point_triangle, segment_triangle
from pathsim.clearance.fast.vectors import Numbers, Vector, add, corner, dot, length, sub

#: Deep enough for 2 ** 60 leaves, as every split halves the triangles.
STACK = 130
#: After a hit only what is nearer than this share of it is looked for: the result then is that
#: share, still a bound from below, and it only orders the search.
_SHRINK = 0.6


@kernel
def _axis_gap(low: Vector, high: Vector, m: Vector, n: Vector, w1: Vector, w2: Vector) -> float:
    """Gap of S, h left out, to a box along n, which need not be a unit vector."""
    size = length(n)
    if not size > 1e-12:
        return 0.0
    apart, half = 0.0, 0.0
    for k in range(3):
        apart += n[k] * (m[k] - (low[k] + high[k]) / 2.0)
        half += abs(n[k]) * (high[k] - low[k]) / 2.0
    return float((abs(apart) - half - abs(dot(n, w1)) - abs(dot(n, w2))) / size)


@kernel
def box_bound(box: Numbers, node: int, m: Vector, h: Vector, w1: Vector, w2: Vector,
              limit: float) -> float:  # fmt: skip
    """Lower bound of the distance of S to a box; not worked out further once above ``limit``."""
    low = (box[node, 0], box[node, 1], box[node, 2])
    high = (box[node, 3], box[node, 4], box[node, 5])
    squares = 0.0
    for k in range(3):
        reach = abs(h[k]) + abs(w1[k]) + abs(w2[k])
        gap = max(low[k] - m[k], m[k] - high[k]) - reach
        if gap > 0.0:
            squares += gap * gap
    bound = np.sqrt(squares)
    if bound >= limit:
        return float(bound)
    bound = max(bound, _axis_gap(low, high, m, (0.0, -h[2], h[1]), w1, w2))
    bound = max(bound, _axis_gap(low, high, m, (h[2], 0.0, -h[0]), w1, w2))
    return float(max(bound, _axis_gap(low, high, m, (-h[1], h[0], 0.0), w1, w2)))


@kernel
def triangle_bound(triangles: Numbers, i: int, m: Vector, h: Vector, w1: Vector, w2: Vector,
                   limit: float) -> float:  # fmt: skip
    """Lower bound of the distance of S to a triangle; at least 0."""
    t = (corner(triangles, i, 0), corner(triangles, i, 1), corner(triangles, i, 2))
    bound = 0.0
    distance, _, near = point_triangle(m, t[0], t[1], t[2])
    if distance > 0.0:
        n = sub(m, near)
        wide = abs(dot(n, h)) + abs(dot(n, w1)) + abs(dot(n, w2))
        bound = max(distance - wide / distance, 0.0)
    if bound >= limit:
        return float(bound)
    distance, on_chord, near = segment_triangle(sub(m, h), add(m, h), t)
    if distance > 0.0:
        n = sub(on_chord, near)
        wide = abs(dot(n, w1)) + abs(dot(n, w2))
        bound = max(bound, distance - wide / distance)
    return float(bound)


@kernel
def swept_bound(tree: BoxTree, m: Vector, h: Vector, w1: Vector, w2: Vector, limit: float,
                enough: float, hint: int) -> tuple[float, int]:  # fmt: skip
    """Lower bound of the distance of S to a mesh, and the triangle that made it lowest.

    Where nothing is nearer than ``limit`` that is ``limit`` itself. Looks at triangle ``hint``
    (-1: none) first, and no further once the bound is no more than ``enough``.
    """
    bound, found = limit, hint
    if hint >= 0:
        value = triangle_bound(tree.triangles, hint, m, h, w1, w2, bound)
        if value < bound:
            bound = _SHRINK * value
            if bound <= enough:
                return bound, hint
    nodes = np.empty(STACK, np.int64)
    gaps = np.empty(STACK)
    nodes[0], gaps[0] = 0, box_bound(tree.box, 0, m, h, w1, w2, bound)
    filled = 1
    while filled > 0:
        filled -= 1
        if gaps[filled] >= bound:
            continue
        node = nodes[filled]
        left, right = tree.links[node, LEFT], tree.links[node, RIGHT]
        if left < 0:
            first = tree.links[node, FIRST]
            for i in range(first, first + tree.links[node, COUNT]):
                value = triangle_bound(tree.triangles, i, m, h, w1, w2, bound)
                if value < bound:
                    bound, found = _SHRINK * value, i
                    if bound <= enough:
                        return bound, found
            continue
        near, far = box_bound(tree.box, left, m, h, w1, w2, bound), 0.0
        far = box_bound(tree.box, right, m, h, w1, w2, bound)
        if far < near:
            left, right, near, far = right, left, far, near
        if far < bound:
            nodes[filled], gaps[filled] = right, far
            filled += 1
        if near < bound:
            nodes[filled], gaps[filled] = left, near
            filled += 1
    return bound, found
