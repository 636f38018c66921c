"""How near a few moving triangles can come to a mesh: the test of leaves.

The bound of a leaf is the least over its pairs of triangles (``triangle_bound.py``), less E. Most
of a mesh is ruled out at once: all corners of the leaf on their chords, widened by the slab, stay
beyond a plane that the box or the triangle is behind. Mostly the plane that parted the last pair
does, so where the leaf begins along it is worked out once, not for each box anew.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.swept.box_bound import (
    LEAF_BOXES,
    Plane,
    Swept,
    box_bound,
    is_box_behind,
    is_triangle_behind,
    triangle_bound,
)
from pathsim.clearance.swept.motion_bound import OFFSET
from pathsim.clearance.swept.records import Pair, Workspace
from pathsim.clearance.swept.swept_pose import END, ROWS, START, band_vector
from pathsim.clearance.swept.triangle_bound import LINES, pair_bound
from pathsim.geometry.bvh import SphereTree
from pathsim.geometry.bvh_split import COUNT, FIRST, LEAF, LEFT, RIGHT, STACK
from pathsim.geometry.triangle_distance import Triangle, triangle_at
from pathsim.kernels.jit import kernel, kernel_inline
from pathsim.kernels.vectors import (
    KernelArray,
    Vector,
    add,
    corner,
    dot,
    length,
    placed,
)
from pathsim.transforms import IntArray

#: Columns of what a leaf found: lower bound of the pairs, s, piece's and body's triangle.
BOUND, SHARE, MOVING, STANDING = 0, 1, 2, 3


@kernel
def _leaf_points(piece: SphereTree, sphere: int, store: KernelArray, points: KernelArray,
                 outline: KernelArray) -> tuple[int, int]:  # fmt: skip
    """Write a leaf's corners at s = 0 and 1 to ``points (2, n, 3)``, three a triangle.

    ``outline`` gets those without the ones that several triangles share; returns how many
    there are of each.
    """
    off, triangles = band_vector(store, OFFSET), piece.triangles
    count, unlike = 0, 0
    first = piece.links[sphere, FIRST]
    for j in range(first, first + piece.links[sphere, COUNT]):
        for k in range(3):
            c = corner(triangles, j, k)
            _put(points, 0, count, add(placed(store, START, c), off))
            _put(points, 1, count, add(placed(store, END, c), off))
            is_new = True
            for i in range(unlike):
                same = True
                for axis in range(3):
                    same = same and outline[0, i, axis] == points[0, count, axis]
                is_new = is_new and not same
            if is_new:
                for end in range(2):
                    _put(outline, end, unlike, point_of(points, end, count))
                unlike += 1
            count += 1
    return count, unlike


@kernel
def _put(points: KernelArray, end: int, i: int, v: Vector) -> None:
    points[end, i, 0], points[end, i, 1], points[end, i, 2] = v


@kernel
def point_of(points: KernelArray, end: int, i: int) -> Vector:
    """Point ``i`` at the start (0) or the end (1) of a sweep."""
    return (points[end, i, 0], points[end, i, 1], points[end, i, 2])


@kernel
def triangle_of(points: KernelArray, end: int, j: int) -> Triangle:
    """Triangle ``j`` of a leaf at the start (0) or the end (1) of a sweep."""
    i = 3 * j
    return (point_of(points, end, i), point_of(points, end, i + 1), point_of(points, end, i + 2))


@kernel
def _plane_of(points: KernelArray, count: int, n: Vector, w1: Vector, w2: Vector) -> Plane:
    """Where all corners begin along n, of any length: f_n of the leaf, the wall left out.

    Linear between its ends, so that both ends are enough.
    """
    least = np.inf
    for i in range(count):
        least = min(least, dot(n, point_of(points, 0, i)), dot(n, point_of(points, 1, i)))
    return Plane(n, least - abs(dot(n, w1)) - abs(dot(n, w2)), length(n))


@kernel
def _from_box(box: KernelArray, node: int, m: Vector) -> Vector:
    """Vector to m from the nearest point of a box."""
    return (
        m[0] - min(max(m[0], box[node, 0]), box[node, 3]),
        m[1] - min(max(m[1], box[node, 1]), box[node, 4]),
        m[2] - min(max(m[2], box[node, 2]), box[node, 5]),
    )


@kernel
def _is_box_far(box: KernelArray, node: int, plane: Plane, s: Swept, reach: float,
                need: float) -> bool:  # fmt: skip
    """Tell whether all of a box is beyond ``need`` of the leaf.

    By the plane of the last pair that was near, as most are. All of the leaf stays within
    ``reach`` of m, and within r of m at s = 1/2: that settles others. Else by the swept box.
    """
    if is_box_behind(plane, box, node, need):
        return True
    away = length(_from_box(box, node, s.m))
    if away - reach >= need:
        return True
    if away + s.r < need:
        return False
    return bool(box_bound(box, node, s) >= need)


@kernel
def _is_triangle_far(triangles: KernelArray, i: int, outline: KernelArray, count: int,
                     plane: Plane, s: Swept, need: float) -> bool:  # fmt: skip
    """Tell whether triangle ``i`` of a mesh is beyond ``need`` of all triangles of the leaf.

    By the plane of the last pair, by the swept box, or by where the corners begin along the way
    from the triangle to the box.
    """
    still = triangle_at(triangles, i)
    if is_triangle_behind(plane, still, need):
        return True
    value, best = triangle_bound(triangles, i, s, need)
    if value >= need:
        return True
    if best.size == 0.0:
        return False
    own = _plane_of(outline, count, best.n, s.w1, s.w2)
    return bool(is_triangle_behind(own, still, need))


@kernel_inline
def bound_pairs(pair: Pair, sphere: int, i: int, w1: Vector, w2: Vector, gap: float, hurry: bool,
                workspace: Workspace) -> None:  # fmt: skip
    """Bound all of a leaf's triangles to triangle ``i`` of the mesh; keep the lowest found yet.

    With ``hurry`` the first that is lower than what was found is enough.
    """
    found, guess, points = workspace.found, workspace.guess, workspace.points
    first, count = pair.piece.links[sphere, FIRST], pair.piece.links[sphere, COUNT]
    still = triangle_at(pair.tree.triangles, i)
    for j in range(count):
        workspace.counts[2] += 1
        start, end = triangle_of(points, 0, j), triangle_of(points, 1, j)
        n = (guess[0], guess[1], guess[2])
        # Once a pair is lower, others only count if they are lower still.
        bound, share, direction = pair_bound(
            start, end, still, w1, w2, n, found[BOUND], gap, workspace.lines
        )
        guess[0], guess[1], guess[2] = direction
        if bound < found[BOUND]:
            found[BOUND], found[SHARE] = bound, share
            found[MOVING], found[STANDING] = first + j, i
            if hurry:
                return


@kernel_inline
def leaf_bound(pair: Pair, sphere: int, s: Swept, need: float, gap: float,
               hurry: bool, hint: int, top: int, workspace: Workspace) -> None:  # fmt: skip
    """Bound the distance of the triangles of a leaf's sphere to a mesh over a sweep, E left out.

    Writes the least bound of all pairs (``need`` where none is lower) and its pair to
    ``workspace.found``. ``s``: the leaf's box over the sweep in ``workspace.store``.
    With ``hurry`` it leaves at the first pair below ``need``; the bound then is not one of the
    whole leaf. ``hint``: the mesh's triangle to look at first (-1: none). Only what lies below
    the mesh's box ``top`` is looked at.
    """
    m, w1, w2, r = s.m, s.w1, s.w2, s.r
    found, guess = workspace.found, workspace.guess
    box, links, triangles = pair.tree.box, pair.tree.links, pair.tree.triangles
    outline = workspace.outline
    _, unlike = _leaf_points(pair.piece, sphere, workspace.store, workspace.points, outline)
    reach = r + length(s.h) + length(w1) + length(w2)
    found[BOUND], found[SHARE], found[MOVING], found[STANDING] = need, 0.5, -1.0, -1.0
    plane = _plane_of(outline, unlike, (guess[0], guess[1], guess[2]), w1, w2)
    if hint >= 0 and not _is_triangle_far(triangles, hint, outline, unlike, plane, s, found[BOUND]):
        bound_pairs(pair, sphere, hint, w1, w2, gap, hurry, workspace)
        if hurry and found[MOVING] >= 0.0:
            return
        plane = _plane_of(outline, unlike, (guess[0], guess[1], guess[2]), w1, w2)
    nodes = workspace.nodes
    nodes[LEAF_BOXES, 0] = top
    filled = 1
    while filled > 0:
        filled -= 1
        node = nodes[LEAF_BOXES, filled]
        if _is_box_far(box, node, plane, s, reach, found[BOUND]):
            continue
        left, right = links[node, LEFT], links[node, RIGHT]
        if left >= 0:
            if length(_from_box(box, right, m)) < length(_from_box(box, left, m)):
                left, right = right, left
            nodes[LEAF_BOXES, filled], nodes[LEAF_BOXES, filled + 1] = right, left
            filled += 2
            continue
        for i in range(
            links[node, FIRST],
            links[node, FIRST] + links[node, COUNT],
        ):
            if i == hint:
                continue
            if _is_triangle_far(triangles, i, outline, unlike, plane, s, found[BOUND]):
                continue
            bound_pairs(pair, sphere, i, w1, w2, gap, hurry, workspace)
            if hurry and found[MOVING] >= 0.0:
                return
            plane = _plane_of(outline, unlike, (guess[0], guess[1], guess[2]), w1, w2)


def new_workspace(counts: IntArray) -> Workspace:
    """Return room to work in that counts on ``counts (3,)``; not for kernels, which borrow it."""
    points = np.zeros((2, 3 * LEAF, 3))
    store, lines = np.zeros((ROWS, 12)), np.zeros((LINES, 2))
    nodes = np.zeros((4, STACK), np.int64)
    return Workspace(store, points, np.zeros_like(points), lines, np.zeros(4), np.zeros(3), nodes,
                np.zeros(STACK), counts)  # fmt: skip
