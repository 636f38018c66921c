"""Exact distance of two meshes that stand, by the trees that the search uses.

A branch and bound: of two nodes the larger is opened, the nearer half first, and what cannot be
nearer than what was seen is left. What two nodes are apart at least is what a sphere and the box
round a turned box are from the other's box, whichever is more.
"""

from __future__ import annotations

import numpy as np

from pathsim.geometry.bvh import BoxTree, SphereTree
from pathsim.geometry.bvh_split import COUNT, FIRST, LEFT, STACK
from pathsim.geometry.mesh import ROUNDING
from pathsim.geometry.triangle_distance import (
    Triangle,
    triangle_at,
    triangle_placed,
    triangle_triangle,
)
from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray, placed, row


@kernel
def _apart(
    sphere: KernelArray, obb: KernelArray, a: int, box: KernelArray, b: int,
    poses: KernelArray, i: int,
) -> float:  # fmt: skip
    """Lower bound on the distance of what node ``a`` of spheres and node ``b`` of boxes hold."""
    c = placed(poses, i, row(sphere, a))
    of_ball, of_box = 0.0, 0.0
    for k in range(3):
        x, y, z = poses[i, 4 * k], poses[i, 4 * k + 1], poses[i, 4 * k + 2]
        half = 0.0
        for n in range(0, 9, 3):
            half += abs(x * obb[a, n] + y * obb[a, n + 1] + z * obb[a, n + 2])
        gap = max(box[b, k] - c[k], c[k] - box[b, 3 + k], 0.0)
        of_ball += gap * gap
        gap = max(gap - half, 0.0)
        of_box += gap * gap
    return float(max(np.sqrt(of_ball) - sphere[a, 3], np.sqrt(of_box)) - ROUNDING)


@kernel
def _boxes_apart(t: Triangle, u: Triangle) -> float:
    """Square of the distance of the boxes round two triangles."""
    total = 0.0
    for k in range(3):
        above = min(t[0][k], t[1][k], t[2][k]) - max(u[0][k], u[1][k], u[2][k])
        below = min(u[0][k], u[1][k], u[2][k]) - max(t[0][k], t[1][k], t[2][k])
        gap = max(above, below, 0.0)
        total += gap * gap
    return total


@kernel
def _triangles(
    piece: KernelArray, first: int, last: int, body: KernelArray, begin: int, end: int,
    poses: KernelArray, i: int, best: float, places: KernelArray,
) -> float:  # fmt: skip
    """Least of ``best`` and the distances of two runs of triangles; ``places (6,)``: where."""
    for j in range(first, last):
        t = triangle_placed(poses, i, piece, j)
        for k in range(begin, end):
            u = triangle_at(body, k)
            if _boxes_apart(t, u) <= best * best:  # squares of the smallest numbers are 0
                distance, on_piece, on_body = triangle_triangle(t, u)
                if distance < best:
                    best = distance
                    for axis in range(3):
                        places[axis], places[3 + axis] = on_piece[axis], on_body[axis]
    return best


@kernel
def _is_larger(sphere: KernelArray, a: int, box: KernelArray, b: int) -> bool:
    """Tell whether node ``a`` of spheres is larger than node ``b`` of boxes."""
    x, y, z = box[b, 3] - box[b, 0], box[b, 4] - box[b, 1], box[b, 5] - box[b, 2]
    return bool(4.0 * sphere[a, 3] * sphere[a, 3] > x * x + y * y + z * z)


@kernel
def _nearest(
    piece: SphereTree, body: BoxTree, poses: KernelArray, i: int, cap: float, enough: float,
    nodes: KernelArray, bounds: KernelArray, places: KernelArray,
) -> float:  # fmt: skip
    """Distance at the pose ``i``; ``places (6,)``: where on the piece and on the body."""
    best, filled = cap, 1
    nodes[0, 0], nodes[0, 1] = 0, 0
    bounds[0] = _apart(piece.sphere, piece.obb, 0, body.box, 0, poses, i)
    while filled > 0 and best > 0.0 and best >= enough:
        filled -= 1
        if bounds[filled] >= best:
            continue
        a, b = nodes[filled, 0], nodes[filled, 1]
        a_ends, b_ends = piece.links[a, LEFT] < 0, body.links[b, LEFT] < 0
        if a_ends and b_ends:
            first, begin = piece.links[a, FIRST], body.links[b, FIRST]
            best = _triangles(
                piece.triangles, first, first + piece.links[a, COUNT], body.triangles, begin,
                begin + body.links[b, COUNT], poses, i, best, places,
            )  # fmt: skip
            continue
        opens_a = b_ends or (not a_ends and _is_larger(piece.sphere, a, body.box, b))
        for side in range(2):
            one = piece.links[a, LEFT + side] if opens_a else a
            other = b if opens_a else body.links[b, LEFT + side]
            nodes[filled + side, 0], nodes[filled + side, 1] = one, other
            bounds[filled + side] = _apart(piece.sphere, piece.obb, one, body.box, other, poses, i)
        if bounds[filled] < bounds[filled + 1]:  # the nearer comes last, and is taken first
            for k in range(2):
                here = nodes[filled, k]
                nodes[filled, k] = nodes[filled + 1, k]
                nodes[filled + 1, k] = here
            bound = bounds[filled]
            bounds[filled] = bounds[filled + 1]
            bounds[filled + 1] = bound
        filled += 2
    return float(best)


@kernel_allocating
def distances(
    piece: SphereTree, body: BoxTree, poses: KernelArray, cap: float, enough: float
) -> KernelArray:
    """Distance ``(n,)`` m of a piece at ``poses (n, 12)`` from a body, ``cap`` where it is more.

    ``poses``: the piece as the body sees it, rows of ``[R | p]``. 0 where surfaces meet. Below
    ``enough`` m any distance of two of their triangles will do.
    """
    found, places = np.empty(len(poses)), np.empty(6)
    nodes, bounds = np.empty((2 * STACK, 2), np.int64), np.empty(2 * STACK)
    for i in range(len(poses)):
        found[i] = _nearest(piece, body, poses, i, cap, enough, nodes, bounds, places)
    return found


@kernel_allocating
def first_nearer(
    piece: SphereTree, body: BoxTree, poses: KernelArray, cap: float
) -> tuple[int, KernelArray]:
    """Return the first of ``poses (n, 12)`` at which a piece is nearer than ``cap`` m, or -1.

    And where: the nearest places ``(6,)`` on the piece and on the body, as the body sees them.
    """
    places = np.empty(6)
    nodes, bounds = np.empty((2 * STACK, 2), np.int64), np.empty(2 * STACK)
    for i in range(len(poses)):
        if _nearest(piece, body, poses, i, cap, 0.0, nodes, bounds, places) < cap:
            return i, places
    return -1, places
