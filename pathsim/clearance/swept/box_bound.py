"""How near a swept box can come to a mesh: the test of inner nodes.

A node of a piece lies in a turned box round c with half sides ``u_j`` (vectors). On its way
over a chord, each point ``c + x`` of that box is at ``(1-s) (c_a + R_a x) + s (c_b + R_b x)``,
widened by the slab w1, w2 and a ball (``motion_bound.py``); the ball is left to the caller. So with
``m + [-1, 1] h`` the chord of c, along any unit n all of it, the set S, stays within

    |n.h| + |n.w1| + |n.w2| + ext(n)   of m,   ext(n) = max over a, b of sum_j |n.R u_j|,

or the radius of the node's sphere where that is less. Bounds from below on the distance of S:

* to a triangle: with ``wall`` the largest ``n.x`` of it, at least ``n.m - wall`` less the above.
  Any n will do; the one that serves is from the nearest point q of the triangle to a place p of
  the chord, and the chord's nearest place is found by going to and fro: q nearest to p, p nearest
  to q. Where some p is nearer than what is asked for, no n can serve, as p is in S.
* to a box or another triangle, by the same n: most of what is near the nearest triangle is behind
  the same plane, and of another thing only its wall has to be worked out.
* to a box besides: the three axes together, the length of the gaps of coordinates.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.swept.motion_bound import SLAB_1, SLAB_2
from pathsim.clearance.swept.records import Workspace
from pathsim.clearance.swept.swept_pose import END, START, band_vector, chord
from pathsim.geometry.bvh import BoxTree, SphereTree
from pathsim.geometry.bvh_split import COUNT, FIRST, LEFT, RIGHT
from pathsim.geometry.triangle_distance import Triangle, point_triangle, triangle_at
from pathsim.kernels.jit import kernel, kernel_inline
from pathsim.kernels.vectors import (
    KernelArray,
    Vector,
    along,
    dot,
    length,
    row,
    sub,
    turned,
)

#: Rows of ``Workspace.nodes``: boxes for a swept box, boxes for a leaf, spheres, and of each sphere
#: the box below which all is that may be near it.
BOXES, LEAF_BOXES, SPHERES, TOPS = 0, 1, 2, 3
#: After a hit only what is nearer than this share of it is looked for: the result then is that
#: share, still a bound from below.
_SHRINK = 0.3
#: A chord is looked along where its half is longer than a tenth of how far its middle is.
_LONG = 0.01
_TO_AND_FRO = 3
#: Square of a chord that is too short to be looked along, m2.
_NO_LENGTH = 1e-30


class Swept(NamedTuple):
    """The set S: chord ``m``, ``h``, slab ``w1``, ``w2``, and the box at both ends of the chord.

    ``first``, ``last``: half sides there, as three vectors each; ``r``: radius of the sphere.
    ``rate``: ``1 / (h.h)``, 0 where the chord has no length. ``sides``: half sides along the
    frame's axes of what S needs beside m.
    """

    m: Vector
    h: Vector
    w1: Vector
    w2: Vector
    first: tuple[Vector, Vector, Vector]
    last: tuple[Vector, Vector, Vector]
    r: float
    rate: float
    sides: Vector


class Plane(NamedTuple):
    """A direction ``n``, how far along it all of S begins, and ``size``, the length of n.

    What ends before that is behind a plane square to n, whatever it is. Of no length: no plane.
    """

    n: Vector
    level: float
    size: float


@kernel
def no_plane() -> Plane:
    """Return a plane that nothing is behind."""
    return Plane((0.0, 0.0, 0.0), 0.0, 0.0)


@kernel
def is_box_behind(plane: Plane, box: KernelArray, node: int, limit: float) -> bool:
    """Tell whether a box ends ``limit`` before S begins; a few products, for most that is far."""
    n = plane.n
    wall = max(n[0] * box[node, 0], n[0] * box[node, 3])
    wall += max(n[1] * box[node, 1], n[1] * box[node, 4])
    wall += max(n[2] * box[node, 2], n[2] * box[node, 5])
    return bool(plane.size > 0.0 and plane.level - wall >= limit * plane.size)


@kernel
def wall_of(n: Vector, t: Triangle) -> float:
    """Where a triangle ends along n: the largest ``n.x`` in it."""
    return max(dot(n, t[0]), dot(n, t[1]), dot(n, t[2]))


@kernel
def is_triangle_behind(plane: Plane, t: Triangle, limit: float) -> bool:
    """Tell whether a triangle ends ``limit`` before S begins."""
    return bool(plane.size > 0.0 and plane.level - wall_of(plane.n, t) >= limit * plane.size)


@kernel
def _sum_along(n: Vector, sides: tuple[Vector, Vector, Vector]) -> float:
    """Half width of a turned box along n."""
    return abs(dot(n, sides[0])) + abs(dot(n, sides[1])) + abs(dot(n, sides[2]))


@kernel
def extent(s: Swept, n: Vector, size: float) -> float:
    """Half width of S along n of length ``size``, the chord left out, times that length."""
    box = max(_sum_along(n, s.first), _sum_along(n, s.last))
    return min(box, s.r * size) + abs(dot(n, s.w1)) + abs(dot(n, s.w2))


@kernel_inline
def swept_obb(piece: SphereTree, sphere: int, store: KernelArray) -> Swept:
    """Return S of a node of a piece over the sweep in ``store``."""
    c, r = row(piece.sphere, sphere), piece.sphere[sphere, 3]
    m, h = chord(store, c)
    w1, w2 = band_vector(store, SLAB_1), band_vector(store, SLAB_2)
    obb = piece.obb
    u = (obb[sphere, 0], obb[sphere, 1], obb[sphere, 2])
    v = (obb[sphere, 3], obb[sphere, 4], obb[sphere, 5])
    w = (obb[sphere, 6], obb[sphere, 7], obb[sphere, 8])
    first = (turned(store, START, u), turned(store, START, v), turned(store, START, w))
    last = (turned(store, END, u), turned(store, END, v), turned(store, END, w))
    size = dot(h, h)
    rate = 1.0 / size if size > _NO_LENGTH else 0.0
    bare = Swept(m, h, w1, w2, first, last, r, rate, m)
    x, y, z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    sides = (
        abs(h[0]) + extent(bare, x, 1.0),
        abs(h[1]) + extent(bare, y, 1.0),
        abs(h[2]) + extent(bare, z, 1.0),
    )
    return Swept(m, h, w1, w2, first, last, r, rate, sides)


@kernel
def _on_chord(s: Swept, q: Vector) -> Vector:
    """Place of the chord that is nearest to q."""
    return along(s.m, min(max(dot(sub(q, s.m), s.h) * s.rate, -1.0), 1.0), s.h)


@kernel
def _plane_of(s: Swept, n: Vector) -> Plane:
    """Where all of S begins along n, of any length above zero."""
    size = length(n)
    return Plane(n, dot(n, s.m) - abs(dot(n, s.h)) - extent(s, n, size), size)


@kernel
def box_bound(box: KernelArray, node: int, s: Swept) -> float:
    """Lower bound of the distance of S to a box: by the gaps along its axes, together."""
    m, sides, squares = s.m, s.sides, 0.0
    for k in range(3):
        gap = max(box[node, k] - m[k], m[k] - box[node, 3 + k]) - sides[k]
        if gap > 0.0:
            squares += gap * gap
    return float(np.sqrt(squares))


@kernel_inline
def triangle_bound(triangles: KernelArray, i: int, s: Swept,
                   limit: float) -> tuple[float, Plane]:  # fmt: skip
    """Lower bound of the distance of S to a triangle, at least 0, and the plane that shows it.

    The chord is only looked at where it can lift the bound to ``limit``.
    """
    t = triangle_at(triangles, i)
    distance, p, q = point_triangle(s.m, t[0], t[1], t[2])
    size = dot(s.h, s.h)
    rounds = _TO_AND_FRO if size > _LONG * distance * distance else 0
    bound, best = 0.0, no_plane()
    for k in range(rounds + 1):
        if k > 0:
            p = _on_chord(s, q)
            distance, _, q = point_triangle(p, t[0], t[1], t[2])
        if not distance > 0.0:
            return bound, best
        plane = _plane_of(s, sub(p, q))
        here = (plane.level - wall_of(plane.n, t)) / plane.size
        if here > bound:
            bound, best = here, plane
        if bound >= limit or distance < limit:
            break
    return bound, best


@kernel_inline
def _lowest_of(triangles: KernelArray, first: int, behind: int, s: Swept, limit: float,
               enough: float, plane: Plane) -> tuple[float, int, Plane]:  # fmt: skip
    """Lowest bound of triangles from ``first`` on, below ``limit``, and which it is.

    Those behind it were only looked at up to its share _SHRINK; after ``enough`` none is. ``plane``
    is looked at first; with them comes the last one that showed something.
    """
    lowest, found, bound = limit, -1, limit
    for i in range(first, behind):
        if is_triangle_behind(plane, triangle_at(triangles, i), bound):
            continue
        value, other = triangle_bound(triangles, i, s, bound)
        if other.size > 0.0:
            plane = other
        if value < bound:
            lowest, found, bound = value, i, _SHRINK * value
            if bound <= enough:
                break
    return lowest, found, plane


@kernel
def _put_nearer_last(nodes: KernelArray, gaps: KernelArray, filled: int, left: int, near: float,
                     right: int, far: float, bound: float) -> int:  # fmt: skip
    """Put those of two boxes that are nearer than ``bound`` on the pile; its new height."""
    if far < near:
        left, right, near, far = right, left, far, near
    if far < bound:
        nodes[BOXES, filled], gaps[filled] = right, far
        filled += 1
    if near < bound:
        nodes[BOXES, filled], gaps[filled] = left, near
        filled += 1
    return filled


@kernel_inline
def swept_bound(tree: BoxTree, s: Swept, limit: float, enough: float, hint: int, top: int,
                workspace: Workspace) -> tuple[float, int, float, int]:  # fmt: skip
    """Lower bound of the distance of S to what lies below box ``top`` of a mesh, and three hints.

    Where nothing is nearer than ``limit`` the bound is ``limit`` itself. Looks at triangle
    ``hint`` (-1: none) first, and no further once the bound is no more than ``enough``. With it
    come the triangle that made it lowest; a guess, the bound of that triangle alone, which tells
    where to look next and proves nothing; and the deepest box below ``top`` outside of which
    nothing below ``top`` is nearer than ``limit``, as far as it was looked for.
    """
    box, links, triangles = tree.box, tree.links, tree.triangles
    bound, found, guess, plane = limit, hint, limit, no_plane()
    if hint >= 0:
        value, plane = triangle_bound(triangles, hint, s, bound)
        if value < bound:
            bound, guess = _SHRINK * value, value
            if bound <= enough:
                return bound, hint, guess, top
    nodes, gaps = workspace.nodes, workspace.gaps
    if is_box_behind(plane, box, top, bound):
        return bound, found, guess, top
    nodes[BOXES, 0], gaps[0] = top, box_bound(box, top, s)
    filled = 1
    alone = True
    while filled > 0:
        filled -= 1
        if gaps[filled] >= bound:
            continue
        node = nodes[BOXES, filled]
        left, right = links[node, LEFT], links[node, RIGHT]
        if left < 0:
            first, behind = links[node, FIRST], links[node, FIRST] + links[node, COUNT]
            value, i, plane = _lowest_of(triangles, first, behind, s, bound, enough, plane)
            if value < bound:
                bound, found, guess = _SHRINK * value, i, value
                if bound <= enough:
                    return bound, found, guess, top
            continue
        worth = limit if alone else bound  # to narrow ``top``, ``limit`` has to be reached
        near = worth if is_box_behind(plane, box, left, worth) else box_bound(box, left, s)
        far = worth if is_box_behind(plane, box, right, worth) else box_bound(box, right, s)
        alone = alone and max(near, far) >= limit
        if alone:
            top = left if near < far else right
        filled = _put_nearer_last(nodes, gaps, filled, left, near, right, far, bound)
    return bound, found, guess, top
