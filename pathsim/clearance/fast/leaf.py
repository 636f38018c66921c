"""How near a few moving triangles can come to a mesh: the test of leaves.

A link's triangle has its corners at ``v_i(s)``, each on its chord, widened by the slab w1, w2
and the ball E of ``motion.py``. For a standing triangle with corners b_j and any unit n

    f_n(s) = min_i n.v_i(s) - max_j n.b_j - |n.w1| - |n.w2|

bounds the distance of the two at s from below (a plane square to n is between them). As a least
of linear functions it is concave, so that between s = 0 and 1 it lies above the line between
its two ends; over several n, above the highest of the lines. The least value of the highest
line is at an end or where a falling and a rising line cross. The next n is the direction of the
nearest points there. The bound of the leaf is the least over its pairs, less E.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.fast.build import COUNT, FIRST, LEAF, LEFT, RIGHT
from pathsim.clearance.fast.inner import LEAF_BOXES, STACK, Swept, box_bound
from pathsim.clearance.fast.motion import OFF
from pathsim.clearance.fast.records import Desk, Pair, SphereTree, Whole
from pathsim.clearance.fast.sweep import END, ROWS, START, band_vector
from pathsim.clearance.fast.triangles import Triangle, point_triangle, triangle_triangle
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import (
    Numbers,
    Vector,
    add,
    between,
    corner,
    dot,
    length,
    placed,
    scaled,
    sub,
)

#: Directions tried for one pair: the first three are guesses.
ROUNDS = 8
LINES = ROUNDS + 3
#: A line that says nothing. Finite: infinity times zero is not a number.
_NOTHING = -1e30
#: Columns of what a leaf found: lower bound of the pairs, s, piece's and body's triangle.
BOUND, SHARE, MOVING, STANDING = 0, 1, 2, 3


@kernel
def _support(n: Vector, start: Triangle, end: Triangle, still: Triangle) -> tuple[float, float]:
    """Values of f_n at s = 0 and at s = 1, the slab left out."""
    wall = max(dot(n, still[0]), dot(n, still[1]), dot(n, still[2]))
    first = min(dot(n, start[0]), dot(n, start[1]), dot(n, start[2]))
    last = min(dot(n, end[0]), dot(n, end[1]), dot(n, end[2]))
    return first - wall, last - wall


@kernel
def _add_line(lines: Numbers, count: int, n: Vector, start: Triangle, end: Triangle,
              still: Triangle, w1: Vector, w2: Vector) -> float:  # fmt: skip
    """Store the line of direction n, of any length; return its lower end."""
    size = length(n)
    if not size > 0.0:
        lines[count, 0], lines[count, 1] = _NOTHING, _NOTHING
        return _NOTHING
    n = scaled(n, 1.0 / size)
    first, last = _support(n, start, end, still)
    wide = abs(dot(n, w1)) + abs(dot(n, w2))
    lines[count, 0], lines[count, 1] = first - wide, last - wide
    return float(min(first, last) - wide)


@kernel
def _top(lines: Numbers, count: int, s: float) -> float:
    """Highest of the lines at s."""
    top = -np.inf
    for k in range(count):
        top = max(top, (1.0 - s) * lines[k, 0] + s * lines[k, 1])
    return top


@kernel
def lowest(lines: Numbers, count: int) -> tuple[float, float]:
    """Least value over s in 0..1 of the highest of ``lines (n, 2)``, and its s.

    The highest of lines is convex: it is lowest at an end, or where a falling and a rising
    line cross; a level line that is higher there counts with its own value.
    """
    first, last = _top(lines, count, 0.0), _top(lines, count, 1.0)
    best, where = (first, 0.0) if first < last else (last, 1.0)
    for i in range(count):
        fall = lines[i, 1] - lines[i, 0]
        if not fall < 0.0:
            continue
        for j in range(count):
            rise = lines[j, 1] - lines[j, 0]
            if not rise > 0.0:
                continue
            s = (lines[i, 0] - lines[j, 0]) / (rise - fall)
            if 0.0 < s < 1.0:
                top = _top(lines, count, s)
                if top < best:
                    best, where = top, s
    return best, where


@kernel
def _flown(start: Triangle, end: Triangle, s: float) -> Triangle:
    return (
        between(start[0], end[0], s),
        between(start[1], end[1], s),
        between(start[2], end[2], s),
    )


@kernel
def pair_bound(start: Triangle, end: Triangle, still: Triangle, w1: Vector, w2: Vector,
               guess: Vector, need: float, gap: float,
               lines: Numbers) -> tuple[float, float, Vector]:  # fmt: skip
    """Lower bound of the distance of two triangles over s in 0..1, its s, and a direction.

    Stops once the bound reaches ``need``, or is within ``gap`` of what the pair can have.
    """
    middle = _flown(start, end, 0.5)
    if _add_line(lines, 0, guess, start, end, still, w1, w2) >= need:
        return need, 0.5, guess
    across = sub(
        scaled(add(add(middle[0], middle[1]), middle[2]), 1.0 / 3.0),
        scaled(add(add(still[0], still[1]), still[2]), 1.0 / 3.0),
    )
    if _add_line(lines, 1, across, start, end, still, w1, w2) >= need:
        return need, 0.5, across
    count, s, bound, direction = 2, 0.5, -np.inf, guess
    for _ in range(ROUNDS):
        distance, on_moving, on_still = triangle_triangle(_flown(start, end, s), still)
        if not distance > 0.0:
            break
        direction = sub(on_moving, on_still)
        wide = (abs(dot(direction, w1)) + abs(dot(direction, w2))) / distance
        _add_line(lines, count, direction, start, end, still, w1, w2)
        count += 1
        bound, s = lowest(lines, count)
        if bound >= need or distance - wide - bound <= gap:
            break
    return bound, s, direction


@kernel
def _leaf_points(piece: SphereTree, sphere: int, store: Numbers, points: Numbers,
                 outline: Numbers) -> tuple[int, int]:  # fmt: skip
    """Write a leaf's corners at s = 0 and 1 to ``points (2, n, 3)``, three a triangle.

    ``outline`` gets those without the ones that several triangles share; returns how many
    there are of each.
    """
    off, triangles = band_vector(store, OFF), piece.triangles
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
def _put(points: Numbers, end: int, i: int, v: Vector) -> None:
    points[end, i, 0], points[end, i, 1], points[end, i, 2] = v


@kernel
def point_of(points: Numbers, end: int, i: int) -> Vector:
    """Point ``i`` at the start (0) or the end (1) of a sweep."""
    return (points[end, i, 0], points[end, i, 1], points[end, i, 2])


@kernel
def triangle_of(points: Numbers, end: int, j: int) -> Triangle:
    """Triangle ``j`` of a leaf at the start (0) or the end (1) of a sweep."""
    i = 3 * j
    return (point_of(points, end, i), point_of(points, end, i + 1), point_of(points, end, i + 2))


@kernel
def _all_beyond(points: Numbers, count: int, n: Vector, wall: float, w1: Vector,
                w2: Vector) -> float:  # fmt: skip
    """How far all corners stay beyond the plane ``n.x = wall``, n of any length; f_n of the leaf.

    Linear between its ends, so that both ends are enough.
    """
    size = length(n)
    if not size > 0.0:
        return _NOTHING
    least = np.inf
    for i in range(count):
        least = min(least, dot(n, point_of(points, 0, i)), dot(n, point_of(points, 1, i)))
    return float((least - wall - abs(dot(n, w1)) - abs(dot(n, w2))) / size)


@kernel
def _box_wall(box: Numbers, node: int, n: Vector) -> float:
    """Largest ``n.x`` in a box."""
    total = 0.0
    for k in range(3):
        total += max(n[k] * box[node, k], n[k] * box[node, 3 + k])
    return total


@kernel
def _from_box(box: Numbers, node: int, m: Vector) -> Vector:
    """Vector to m from the nearest point of a box."""
    return (
        m[0] - min(max(m[0], box[node, 0]), box[node, 3]),
        m[1] - min(max(m[1], box[node, 1]), box[node, 4]),
        m[2] - min(max(m[2], box[node, 2]), box[node, 5]),
    )


@kernel
def _is_box_far(box: Numbers, node: int, outline: Numbers, count: int, s: Swept, reach: float,
                need: float) -> bool:  # fmt: skip
    """Tell whether all of a box is beyond ``need`` of the leaf.

    All of the leaf stays within ``reach`` of m, and within r of m at s = 1/2: that settles
    most boxes. Else by the plane square to the way from the box to m, or the swept box.
    """
    n = _from_box(box, node, s.m)
    away = length(n)
    if away - reach >= need:
        return True
    if away + s.r < need:
        return False
    if _all_beyond(outline, count, n, _box_wall(box, node, n), s.w1, s.w2) >= need:
        return True
    return bool(box_bound(box, node, s, need) >= need)


@kernel
def _is_triangle_far(still: Triangle, outline: Numbers, count: int, m: Vector, w1: Vector,
                     w2: Vector, r: float, reach: float, guess: Vector,
                     need: float) -> bool:  # fmt: skip
    """Tell whether a triangle is beyond ``need`` of all triangles of the leaf."""
    away, _, near = point_triangle(m, still[0], still[1], still[2])
    if away - reach >= need:
        return True
    if away + r < need:
        return False
    n = sub(m, near)
    wall = max(dot(n, still[0]), dot(n, still[1]), dot(n, still[2]))
    if _all_beyond(outline, count, n, wall, w1, w2) >= need:
        return True
    wall = max(dot(guess, still[0]), dot(guess, still[1]), dot(guess, still[2]))
    return bool(_all_beyond(outline, count, guess, wall, w1, w2) >= need)


@kernel
def leaf_bound(pair: Pair, sphere: int, s: Swept, need: float, gap: float,
               hurry: bool, desk: Desk) -> None:  # fmt: skip
    """Bound the distance of the triangles of a leaf's sphere to a mesh over a sweep, E left out.

    Writes the least bound of all pairs (``need`` where none is lower) and its pair to
    ``desk.found``. ``s``: the leaf's box over the sweep in ``desk.store``.
    With ``hurry`` it leaves at the first pair below ``need``; the bound then is not one of the
    whole leaf.
    """
    m, w1, w2, r = s.m, s.w1, s.w2, s.r
    found, guess, counts = desk.found, desk.guess, desk.counts
    box, links, triangles = pair.tree.box, pair.tree.links, pair.tree.triangles
    points, outline, lines = desk.points, desk.outline, desk.lines
    count, unlike = _leaf_points(pair.piece, sphere, desk.store, points, outline)
    first_moving = pair.piece.links[sphere, FIRST]
    reach = r + length(s.h) + length(w1) + length(w2)
    found[BOUND], found[SHARE], found[MOVING], found[STANDING] = need, 0.5, -1.0, -1.0
    nodes = desk.nodes
    nodes[LEAF_BOXES, 0] = 0
    filled = 1
    while filled > 0:
        filled -= 1
        node = nodes[LEAF_BOXES, filled]
        if _is_box_far(box, node, outline, unlike, s, reach, found[BOUND]):
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
            still = (
                corner(triangles, i, 0),
                corner(triangles, i, 1),
                corner(triangles, i, 2),
            )
            n = (guess[0], guess[1], guess[2])
            if _is_triangle_far(still, outline, unlike, m, w1, w2, r, reach, n, found[BOUND]):
                continue
            for j in range(count // 3):
                counts[2] += 1
                start, end = triangle_of(points, 0, j), triangle_of(points, 1, j)
                n = (guess[0], guess[1], guess[2])
                # Once a pair is lower, others only count if they are lower still.
                bound, share, direction = pair_bound(
                    start, end, still, w1, w2, n, found[BOUND], gap, lines
                )
                guess[0], guess[1], guess[2] = direction
                if bound < found[BOUND]:
                    found[BOUND], found[SHARE] = bound, share
                    found[MOVING], found[STANDING] = first_moving + j, i
                    if hurry:
                        return


def new_desk(counts: Whole) -> Desk:
    """Return room to work in that counts on ``counts (3,)``; not for kernels, which borrow it."""
    points = np.zeros((2, 3 * LEAF, 3))
    store, lines = np.zeros((ROWS, 12)), np.zeros((LINES, 2))
    nodes = np.zeros((3, STACK), np.int64)
    return Desk(store, points, np.zeros_like(points), lines, np.zeros(4), np.zeros(3), nodes,
                np.zeros(STACK), counts)  # fmt: skip
