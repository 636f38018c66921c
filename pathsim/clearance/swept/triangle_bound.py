"""How near a moving triangle can come to a standing one: by lines in time.

A link's triangle has its corners at ``v_i(s)``, each on its chord, widened by the slab w1, w2
and the ball E of ``motion_bound.py``. For a standing triangle with corners b_j and any unit n

    f_n(s) = min_i n.v_i(s) - max_j n.b_j - |n.w1| - |n.w2|

bounds the distance of the two at s from below (a plane square to n is between them). As a least
of linear functions it is concave, so that between s = 0 and 1 it lies above the line between
its two ends; over several n, above the highest of the lines. The least value of the highest
line is at an end or where a falling and a rising line cross. The next n is the direction of the
nearest points there. The ball is left to the caller.
"""

from __future__ import annotations

import numpy as np

from pathsim.geometry.triangle_distance import Triangle, triangle_triangle
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import KernelArray, Vector, add, between, dot, length, scaled, sub

#: Directions tried for one pair: the first three are guesses.
ROUNDS = 8
LINES = ROUNDS + 3
#: A line that says nothing. Finite: infinity times zero is not a number.
NOTHING = -1e30


@kernel
def _support(n: Vector, start: Triangle, end: Triangle, still: Triangle) -> tuple[float, float]:
    """Values of f_n at s = 0 and at s = 1, the slab left out."""
    wall = max(dot(n, still[0]), dot(n, still[1]), dot(n, still[2]))
    first = min(dot(n, start[0]), dot(n, start[1]), dot(n, start[2]))
    last = min(dot(n, end[0]), dot(n, end[1]), dot(n, end[2]))
    return first - wall, last - wall


@kernel
def _add_line(lines: KernelArray, count: int, n: Vector, start: Triangle, end: Triangle,
              still: Triangle, w1: Vector, w2: Vector) -> float:  # fmt: skip
    """Store the line of direction n, of any length; return its lower end."""
    size = length(n)
    if not size > 0.0:
        lines[count, 0], lines[count, 1] = NOTHING, NOTHING
        return NOTHING
    n = scaled(n, 1.0 / size)
    first, last = _support(n, start, end, still)
    wide = abs(dot(n, w1)) + abs(dot(n, w2))
    lines[count, 0], lines[count, 1] = first - wide, last - wide
    return float(min(first, last) - wide)


@kernel
def _top(lines: KernelArray, count: int, s: float) -> float:
    """Highest of the lines at s."""
    top = -np.inf
    for k in range(count):
        top = max(top, (1.0 - s) * lines[k, 0] + s * lines[k, 1])
    return top


@kernel
def lowest(lines: KernelArray, count: int) -> tuple[float, float]:
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
               lines: KernelArray) -> tuple[float, float, Vector]:  # fmt: skip
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
