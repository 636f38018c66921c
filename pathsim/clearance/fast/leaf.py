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
from pathsim.clearance.fast.inner import STACK, box_bound
from pathsim.clearance.fast.jit import kernel
from pathsim.clearance.fast.motion import OFF, W1, W2
from pathsim.clearance.fast.records import BoxTree, Desk, Pair, SphereTree
from pathsim.clearance.fast.sweep import BAND, START, new_store
from pathsim.clearance.fast.triangles import Triangle, point_triangle, triangle_triangle
from pathsim.clearance.fast.vectors import (
    Numbers,
    Vector,
    add,
    between,
    corner,
    dot,
    length,
    placed,
    row,
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
def lowest(lines: Numbers, count: int) -> tuple[float, float]:
    """Least value over s in 0..1 of the highest of ``lines (n, 2)``, and its s."""
    best, where = np.inf, 0.5
    for i in range(count):
        for j in range(i, count):
            slope_i = lines[i, 1] - lines[i, 0]
            slope_j = lines[j, 1] - lines[j, 0]
            crossing = slope_i - slope_j
            s = 0.5
            if crossing != 0.0 and slope_i * slope_j <= 0.0:
                s = min(max((lines[j, 0] - lines[i, 0]) / crossing, 0.0), 1.0)
            for at in (s, 0.0, 1.0):
                top = -np.inf
                for k in range(count):
                    top = max(top, (1.0 - at) * lines[k, 0] + at * lines[k, 1])
                if top < best:
                    best, where = top, at
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
def _leaf_points(piece: SphereTree, sphere: int, store: Numbers, points: Numbers) -> int:
    """Write the corners of a leaf's triangles at s = 0 and 1 to ``points (2, n, 3)``; return n."""
    band = store[BAND]
    off = (band[OFF], band[OFF + 1], band[OFF + 2])
    count = 0
    for j in range(
        piece.links[sphere, FIRST], piece.links[sphere, FIRST] + piece.links[sphere, COUNT]
    ):
        for k in range(3):
            c = corner(piece.triangles, j, k)
            for end in range(2):
                v = add(placed(store[START + end], c), off)
                points[end, count, 0], points[end, count, 1], points[end, count, 2] = v
            count += 1
    return count


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
        least = min(least, dot(n, row(points[0], i)), dot(n, row(points[1], i)))
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
def _is_box_far(tree: BoxTree, node: int, points: Numbers, count: int, m: Vector, h: Vector,
                w1: Vector, w2: Vector, r: float, guess: Vector, need: float) -> bool:  # fmt: skip
    """Tell whether all of a box is beyond ``need`` of the leaf, by any of three bounds."""
    if _all_beyond(points, count, guess, _box_wall(tree.box, node, guess), w1, w2) >= need:
        return True
    n = _from_box(tree.box, node, m)
    if _all_beyond(points, count, n, _box_wall(tree.box, node, n), w1, w2) >= need:
        return True
    return bool(box_bound(tree.box, node, m, h, w1, w2, need + r) >= need + r)


@kernel
def _is_triangle_far(still: Triangle, points: Numbers, count: int, m: Vector, w1: Vector,
                     w2: Vector, guess: Vector, need: float) -> bool:  # fmt: skip
    """Tell whether a triangle is beyond ``need`` of all triangles of the leaf."""
    wall = max(dot(guess, still[0]), dot(guess, still[1]), dot(guess, still[2]))
    if _all_beyond(points, count, guess, wall, w1, w2) >= need:
        return True
    _, _, near = point_triangle(m, still[0], still[1], still[2])
    n = sub(m, near)
    wall = max(dot(n, still[0]), dot(n, still[1]), dot(n, still[2]))
    return bool(_all_beyond(points, count, n, wall, w1, w2) >= need)


@kernel
def leaf_bound(pair: Pair, sphere: int, m: Vector, h: Vector, need: float, gap: float,
               hurry: bool, desk: Desk) -> None:  # fmt: skip
    """Bound the distance of the triangles of a leaf's sphere to a mesh over a sweep, E left out.

    Writes the least bound of all pairs (``need`` where none is lower) and its pair to
    ``desk.found``. ``m``, ``h``: chord of the sphere's centre over the sweep in ``desk.store``.
    With ``hurry`` it leaves at the first pair below ``need``; the bound then is not one of the
    whole leaf.
    """
    band = desk.store[BAND]
    w1 = (band[W1], band[W1 + 1], band[W1 + 2])
    w2 = (band[W2], band[W2 + 1], band[W2 + 2])
    r = pair.piece.sphere[sphere, 3]
    found, guess = desk.found, desk.guess
    points, lines = desk.room[:2], desk.room[2]
    count = _leaf_points(pair.piece, sphere, desk.store, points)
    found[BOUND], found[SHARE], found[MOVING], found[STANDING] = need, 0.5, -1.0, -1.0
    nodes = np.empty(STACK, np.int64)
    nodes[0] = 0
    filled = 1
    while filled > 0:
        filled -= 1
        node = nodes[filled]
        n = (guess[0], guess[1], guess[2])
        if _is_box_far(pair.tree, node, points, count, m, h, w1, w2, r, n, found[BOUND]):
            continue
        left, right = pair.tree.links[node, LEFT], pair.tree.links[node, RIGHT]
        if left >= 0:
            if length(_from_box(pair.tree.box, right, m)) < length(
                _from_box(pair.tree.box, left, m)
            ):
                left, right = right, left
            nodes[filled], nodes[filled + 1] = right, left
            filled += 2
            continue
        for i in range(
            pair.tree.links[node, FIRST],
            pair.tree.links[node, FIRST] + pair.tree.links[node, COUNT],
        ):
            still = (
                corner(pair.tree.triangles, i, 0),
                corner(pair.tree.triangles, i, 1),
                corner(pair.tree.triangles, i, 2),
            )
            n = (guess[0], guess[1], guess[2])
            if _is_triangle_far(still, points, count, m, w1, w2, n, found[BOUND]):
                continue
            for j in range(count // 3):
                desk.counts[2] += 1
                start = (
                    row(points[0], 3 * j),
                    row(points[0], 3 * j + 1),
                    row(points[0], 3 * j + 2),
                )
                end = (row(points[1], 3 * j), row(points[1], 3 * j + 1), row(points[1], 3 * j + 2))
                n = (guess[0], guess[1], guess[2])
                # Once a pair is lower, others only count if they are lower still.
                bound, s, direction = pair_bound(
                    start, end, still, w1, w2, n, found[BOUND], gap, lines
                )
                guess[0], guess[1], guess[2] = direction
                if bound < found[BOUND]:
                    found[BOUND], found[SHARE] = bound, s
                    found[MOVING], found[STANDING] = pair.piece.links[sphere, FIRST] + j, i
                    if hurry:
                        return


@kernel
def new_desk(counts: Numbers) -> Desk:
    """Return room to work in that counts on ``counts (3,)``."""
    room = np.zeros((3, max(3 * LEAF, LINES), 3))
    return Desk(new_store(), room, np.zeros(4), np.zeros(3), counts)
