"""One entry of the search: a sphere of the piece during a node of time, bounded and divided.

An entry whose bound reaches what is asked for is done; any other is divided, in time where the
motion is the rougher part, else in the sphere, and at the bottom its triangles are bounded one
by one (``leaf.py``). At the bottom of time a segment is halved as often as needed, with poses
worked out anew.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.fast.heap import key_of, push
from pathsim.clearance.fast.inner import Swept, swept, swept_bound
from pathsim.clearance.fast.leaf import BOUND, MOVING, leaf_bound, triangle_at
from pathsim.clearance.fast.motion import W1, W2
from pathsim.clearance.fast.records import Asked, Desk, Pair
from pathsim.clearance.fast.split import LEFT, RIGHT
from pathsim.clearance.fast.sweep import band_vector, can_split, error_at, halves
from pathsim.clearance.fast.triangles import point_triangle
from pathsim.kernels.jit import kernel, kernel_put_in_place
from pathsim.kernels.vectors import Numbers, dot, length, row, sub

#: Close to contact the interval narrows to a quarter of the distance, down to this, m.
FINEST = 1e-5
#: Time is split while the ball of the motion is larger than this, m, and this share of r, or its
#: slab than that: at a leaf it would have to be split as often, for each leaf anew.
_ROUGH, _ROUGH_SHARE = 1e-4, 0.05
_WIDE, _WIDE_SHARE = 3e-4, 0.25
#: A leaf is only opened when the ball is less than this share of the interval's allowed width,
#: and the slab, along the way to the nearest triangle, less than that many widths.
_LEAF_ROUGH, _LEAF_WIDE = 0.7, 2.0
#: Rounding in coordinates of up to 1000 m stays below this, m.
ROUNDING = 1e-9
#: Columns of a result: bounds, time of the upper one, its points, whether the interval is
#: closed, and whether one of the two might lie inside the other at the start.
LOWER, UPPER, TIME, ON_MOVING, ON_STANDING, CLOSED, INSIDE = 0, 1, 2, 3, 6, 9, 10
RESULT = 11


class Bounded(NamedTuple):
    """What is known of an entry: a lower bound, and the body's triangle that seemed nearest.

    ``guess``: how near that triangle seems; it orders the search and proves nothing. ``opened``:
    the entry's triangles were bounded one by one, and the nearest pair is in ``desk.found``.
    ``top``: the body's box outside of which nothing is nearer than what was asked for. The parts
    of the entry need not look there again: their way is part of its way, and what is asked for
    only falls.
    """

    lower: float
    hint: int
    guess: float
    opened: bool
    top: int


@kernel
def allowed(tolerance: float, upper: float) -> float:
    """Width that an interval may have whose upper end is ``upper``."""
    return float(min(tolerance, max(upper / 4.0, FINEST)))


@kernel
def threshold(asked: Asked, upper: float) -> float:
    """Lower bound that is enough when ``upper`` has been seen."""
    if upper == np.inf:
        return float(asked.cap)
    return float(min(asked.cap, upper - allowed(asked.tolerance, upper)))


@kernel_put_in_place
def is_narrow(pair: Pair, s: Swept, hint: int, width: float) -> bool:
    """Tell whether the slab is narrow along the way from triangle ``hint`` to the sweep."""
    if hint < 0 or length(s.w1) + length(s.w2) <= width:
        return True
    t = triangle_at(pair.tree.triangles, hint)
    away, _, near = point_triangle(s.m, t[0], t[1], t[2])
    n = sub(s.m, near)
    return bool(abs(dot(n, s.w1)) + abs(dot(n, s.w2)) <= _LEAF_WIDE * width * away)


@kernel_put_in_place
def bound_entry(pair: Pair, sphere: int, node: int, lower: float, hint: int, top: int, asked: Asked,
                desk: Desk, result: Numbers) -> Bounded:  # fmt: skip
    """Raise the lower bound of an entry whose sweep is in ``desk.store``.

    Outside of the body's box ``top`` all is known to be beyond what is asked for.
    """
    s = swept(pair.piece, sphere, desk.store)
    c = row(pair.piece.sphere, sphere)
    error = error_at(desk.store, pair.job, c, s.r) + ROUNDING
    need = threshold(asked, result[UPPER])
    desk.counts[0] += 1
    gap, hint, guess, top = swept_bound(pair.tree, s, need + error, lower + error, hint, top, desk)
    # Asked in the same words: subtracting what was added may fall short by a rounding.
    lower = max(lower, need if gap >= need + error else gap - error)
    guess -= error
    if lower >= need or pair.piece.links[sphere, LEFT] >= 0:
        return Bounded(lower, hint, guess, opened=False, top=top)
    splittable = can_split(pair.motion, node)
    width = allowed(asked.tolerance, result[UPPER])
    if error > _LEAF_ROUGH * width or (splittable and not is_narrow(pair, s, hint, width)):
        return Bounded(lower, hint, guess, opened=False, top=top)
    desk.counts[1] += 1
    leaf_bound(pair, sphere, s, need + error, width / 10.0, splittable, hint, top, desk)
    if desk.found[MOVING] < 0.0:
        lower = need
    elif not splittable:
        lower = max(lower, desk.found[BOUND] - error)
    return Bounded(lower, hint, guess, opened=True, top=top)


@kernel_put_in_place
def divide(pair: Pair, sphere: int, node: int, f0: float, f1: float, bounded: Bounded,
           store: Numbers, numbers: Numbers, whole: Numbers, filled: int) -> None:  # fmt: skip
    """Push the two halves of an entry: of its time where the motion is rough, or its sphere."""
    c, r = row(pair.piece.sphere, sphere), pair.piece.sphere[sphere, 3]
    error = error_at(store, pair.job, c, 0.0)
    wide = length(band_vector(store, W1)) + length(band_vector(store, W2))
    top = bounded.top
    lower, hint, key = bounded.lower, bounded.hint, key_of(bounded.guess, r + error)
    is_rough = error > _ROUGH_SHARE * r + _ROUGH or wide > _WIDE_SHARE * r + _WIDE
    if not is_rough and pair.piece.links[sphere, LEFT] >= 0:
        left, right = pair.piece.links[sphere, LEFT], pair.piece.links[sphere, RIGHT]
        push(numbers, whole, filled, key, lower, left, node, hint, top, f0, f1)
        push(numbers, whole, filled + 1, key, lower, right, node, hint, top, f0, f1)
    elif can_split(pair.motion, node):
        early, late = halves(pair.motion, node)
        push(numbers, whole, filled, key, lower, sphere, early, hint, top, 0.0, 1.0)
        push(numbers, whole, filled + 1, key, lower, sphere, late, hint, top, 0.0, 1.0)
    else:
        middle = (f0 + f1) / 2.0
        push(numbers, whole, filled, key, lower, sphere, node, hint, top, f0, middle)
        push(numbers, whole, filled + 1, key, lower, sphere, node, hint, top, middle, f1)
