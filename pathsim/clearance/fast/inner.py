"""How near a swept box can come to a mesh: the test of inner nodes.

A node of a piece lies in a turned box round c with half sides ``u_j`` (vectors). On its way
over a chord, each point ``c + x`` of that box is at ``(1-s) (c_a + R_a x) + s (c_b + R_b x)``,
widened by the slab w1, w2 and a ball (``motion.py``); the ball is left to the caller. So with
``m + [-1, 1] h`` the chord of c, along any unit n all of it, the set S, stays within

    |n.h| + |n.w1| + |n.w2| + ext(n)   of m,   ext(n) = max over a, b of sum_j |n.R u_j|,

or the radius of the node's sphere where that is less. Bounds from below on the distance of S:

* to a box: for any unit n it is at least ``|n.(m - middle)| - (half sides of the box).|n|``
  less the above. The three axes together give the gap of two boxes, the length of the gaps of
  coordinates; the three ``n = e_i x h`` leave h out, which a long chord needs.
* to a triangle: with d the distance of m and n the direction from its nearest point, all of the
  triangle lies behind the plane through that point square to n, so that the distance of S is
  at least d less the above. The same for the nearest points of the chord (a convex set, hence
  on its own side of such planes) and the triangle, without h.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.fast.build import COUNT, FIRST, LEFT, RIGHT
from pathsim.clearance.fast.motion import W1, W2
from pathsim.clearance.fast.records import BoxTree, Desk, SphereTree
from pathsim.clearance.fast.sweep import END, START, band_vector, chord
from pathsim.clearance.fast.triangles import point_triangle, segment_triangle
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import (
    Numbers,
    Vector,
    add,
    corner,
    dot,
    length,
    row,
    sub,
    turned,
)

#: Deep enough for 2 ** 60 leaves, as every split halves the triangles.
STACK = 130
#: Rows of ``Desk.nodes``: boxes for a swept box, boxes for a leaf, spheres.
BOXES, LEAF_BOXES, SPHERES = 0, 1, 2
#: After a hit only what is nearer than this share of it is looked for: the result then is that
#: share, still a bound from below, and it only orders the search.
_SHRINK = 0.6


class Swept(NamedTuple):
    """The set S: chord ``m``, ``h``, slab ``w1``, ``w2``, and the box at both ends of the chord.

    ``first``, ``last``: half sides there, as three vectors each; ``r``: radius of the sphere.
    ``sides``: half sides along the frame's axes of what S needs beside m.
    """

    m: Vector
    h: Vector
    w1: Vector
    w2: Vector
    first: tuple[Vector, Vector, Vector]
    last: tuple[Vector, Vector, Vector]
    r: float
    sides: Vector


@kernel
def _sum_along(n: Vector, sides: tuple[Vector, Vector, Vector]) -> float:
    """Half width of a turned box along n."""
    return abs(dot(n, sides[0])) + abs(dot(n, sides[1])) + abs(dot(n, sides[2]))


@kernel
def extent(s: Swept, n: Vector, size: float) -> float:
    """Half width of S along n of length ``size``, the chord left out, times that length."""
    box = max(_sum_along(n, s.first), _sum_along(n, s.last))
    return min(box, s.r * size) + abs(dot(n, s.w1)) + abs(dot(n, s.w2))


@kernel
def swept(piece: SphereTree, sphere: int, store: Numbers) -> Swept:
    """Return S of a node of a piece over the sweep in ``store``."""
    c, r = row(piece.sphere, sphere), piece.sphere[sphere, 3]
    m, h = chord(store, c)
    w1, w2 = band_vector(store, W1), band_vector(store, W2)
    brick = piece.brick
    u = (brick[sphere, 0], brick[sphere, 1], brick[sphere, 2])
    v = (brick[sphere, 3], brick[sphere, 4], brick[sphere, 5])
    w = (brick[sphere, 6], brick[sphere, 7], brick[sphere, 8])
    first = (turned(store, START, u), turned(store, START, v), turned(store, START, w))
    last = (turned(store, END, u), turned(store, END, v), turned(store, END, w))
    bare = Swept(m, h, w1, w2, first, last, r, m)
    x, y, z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    sides = (
        abs(h[0]) + extent(bare, x, 1.0),
        abs(h[1]) + extent(bare, y, 1.0),
        abs(h[2]) + extent(bare, z, 1.0),
    )
    return Swept(m, h, w1, w2, first, last, r, sides)


@kernel
def _axis_gap(low: Vector, high: Vector, s: Swept, n: Vector) -> float:
    """Gap of S, its chord left out, to a box along n, which need not be a unit vector."""
    size = length(n)
    if not size > 1e-12:
        return 0.0
    apart, half = 0.0, 0.0
    for k in range(3):
        apart += n[k] * (s.m[k] - (low[k] + high[k]) / 2.0)
        half += abs(n[k]) * (high[k] - low[k]) / 2.0
    return float((abs(apart) - half - extent(s, n, size)) / size)


@kernel
def box_bound(box: Numbers, node: int, s: Swept, limit: float) -> float:
    """Lower bound of the distance of S to a box; not worked out further once above ``limit``."""
    low = (box[node, 0], box[node, 1], box[node, 2])
    high = (box[node, 3], box[node, 4], box[node, 5])
    m, h = s.m, s.h
    squares, middle = 0.0, 0.0
    for k in range(3):
        gap = max(low[k] - m[k], m[k] - high[k])
        middle += max(gap, 0.0) * max(gap, 0.0)
        gap -= s.sides[k]
        if gap > 0.0:
            squares += gap * gap
    bound = np.sqrt(squares)
    # m is in S: where it is nearer than the limit, no bound can reach that.
    if bound >= limit or middle < limit * limit:
        return float(bound)
    if dot(h, h) > 0.01 * middle:
        bound = max(bound, _axis_gap(low, high, s, (0.0, -h[2], h[1])))
        bound = max(bound, _axis_gap(low, high, s, (h[2], 0.0, -h[0])))
        bound = max(bound, _axis_gap(low, high, s, (-h[1], h[0], 0.0)))
        if bound >= limit:
            return float(bound)
    # Along the way from the box to m.
    n = (
        m[0] - min(max(m[0], low[0]), high[0]),
        m[1] - min(max(m[1], low[1]), high[1]),
        m[2] - min(max(m[2], low[2]), high[2]),
    )
    size = np.sqrt(middle)
    return float(max(bound, size - (abs(dot(n, h)) + extent(s, n, size)) / size))


@kernel
def triangle_bound(triangles: Numbers, i: int, s: Swept, limit: float) -> float:
    """Lower bound of the distance of S to a triangle; at least 0.

    The chord is only looked at where it can lift the bound to ``limit``.
    """
    t = (corner(triangles, i, 0), corner(triangles, i, 1), corner(triangles, i, 2))
    distance, _, near = point_triangle(s.m, t[0], t[1], t[2])
    if not distance > 0.0:
        return 0.0
    n = sub(s.m, near)
    bound = max(distance - (abs(dot(n, s.h)) + extent(s, n, distance)) / distance, 0.0)
    if bound >= limit or distance < limit:
        return float(bound)
    distance, on_chord, near = segment_triangle(sub(s.m, s.h), add(s.m, s.h), t)
    if distance > 0.0:
        n = sub(on_chord, near)
        bound = max(bound, distance - extent(s, n, distance) / distance)
    return float(bound)


@kernel
def swept_bound(tree: BoxTree, s: Swept, limit: float, enough: float, hint: int,
                desk: Desk) -> tuple[float, int]:  # fmt: skip
    """Lower bound of the distance of S to a mesh, and the triangle that made it lowest.

    Where nothing is nearer than ``limit`` that is ``limit`` itself. Looks at triangle ``hint``
    (-1: none) first, and no further once the bound is no more than ``enough``.
    """
    box, links, triangles = tree.box, tree.links, tree.triangles
    bound, found = limit, hint
    if hint >= 0:
        value = triangle_bound(triangles, hint, s, bound)
        if value < bound:
            bound = _SHRINK * value
            if bound <= enough:
                return bound, hint
    nodes, gaps = desk.nodes, desk.gaps
    nodes[BOXES, 0], gaps[0] = 0, box_bound(box, 0, s, bound)
    filled = 1
    while filled > 0:
        filled -= 1
        if gaps[filled] >= bound:
            continue
        node = nodes[BOXES, filled]
        left, right = links[node, LEFT], links[node, RIGHT]
        if left < 0:
            first = links[node, FIRST]
            for i in range(first, first + links[node, COUNT]):
                value = triangle_bound(triangles, i, s, bound)
                if value < bound:
                    bound, found = _SHRINK * value, i
                    if bound <= enough:
                        return bound, found
            continue
        near = box_bound(box, left, s, bound)
        far = box_bound(box, right, s, bound)
        if far < near:
            left, right, near, far = right, left, far, near
        if far < bound:
            nodes[BOXES, filled], gaps[filled] = right, far
            filled += 1
        if near < bound:
            nodes[BOXES, filled], gaps[filled] = left, near
            filled += 1
    return bound, found
