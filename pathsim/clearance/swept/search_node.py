"""A node of the search: a sphere of the piece during a node of time, bounded and branched.

A node whose bound reaches what is asked for is pruned; any other is divided, in time where the
motion is the rougher part, else in the sphere, and at the bottom its triangles are bounded one
by one (``leaf_bound.py``). At the bottom of time a segment is halved as often as needed, with
poses worked out anew.

The priority queue is a binary heap. Columns of a node's numbers: key, lower bound, and part of a
segment [f0, f1]; of its whole numbers: sphere, node of time, the obstacle's triangle that was
nearest, and the obstacle's box outside of which all is far enough. The key is a guess at how near
the node comes, and only orders: what prunes is the lower bound, kept apart. Mixed up, they would
break the proof.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.swept.box_bound import Swept, swept_bound, swept_obb
from pathsim.clearance.swept.leaf_bound import BOUND, MOVING, leaf_bound
from pathsim.clearance.swept.motion_bound import SLAB_1, SLAB_2
from pathsim.clearance.swept.records import Pair, QueryLimits, Workspace
from pathsim.clearance.swept.swept_pose import band_vector, can_split, error_at, halves
from pathsim.geometry.bvh_split import LEFT, RIGHT
from pathsim.geometry.mesh import ROUNDING
from pathsim.geometry.triangle_distance import point_triangle, triangle_at
from pathsim.kernels.jit import kernel, kernel_allocating, kernel_inline
from pathsim.kernels.vectors import KernelArray, dot, length, row, sub

KEY, LOWER_BOUND, F0, F1 = 0, 1, 2, 3
SPHERE, NODE, HINT, TOP = 0, 1, 2, 3
#: Entries that may touch come first, the smallest of them before all: contact shows soonest.
_TOUCHING = -1e6


@kernel_allocating
def new_heap() -> tuple[KernelArray, KernelArray]:
    """Return room for entries: numbers and whole numbers."""
    return np.empty((4096, 4)), np.empty((4096, 4), np.int64)


@kernel_allocating
def larger(
    numbers: KernelArray, whole: KernelArray, filled: int
) -> tuple[KernelArray, KernelArray]:
    """Return the heap of ``filled`` entries with twice the room."""
    more, more_whole = np.empty((2 * len(numbers), 4)), np.empty((2 * len(whole), 4), np.int64)
    more[:filled], more_whole[:filled] = numbers[:filled], whole[:filled]
    return more, more_whole


@kernel
def _move(numbers: KernelArray, whole: KernelArray, i: int, j: int) -> None:
    """Copy entry i to place j; number by number, as copying rows costs ten times as much."""
    for k in range(4):
        numbers[j, k] = numbers[i, k]
    for k in range(4):
        whole[j, k] = whole[i, k]


@kernel
def key_of(guess: float, size: float) -> float:
    """Order of an entry: by how near it seems; where it may touch, by its size."""
    return guess if guess > 0.0 else _TOUCHING + size


@kernel
def push(numbers: KernelArray, whole: KernelArray, filled: int, key: float, lower: float,
         sphere: int, node: int, hint: int, top: int, f0: float, f1: float) -> None:  # fmt: skip
    """Put an entry into the heap of ``filled`` entries."""
    i = filled
    while i > 0:
        parent = (i - 1) // 2
        if numbers[parent, KEY] <= key:
            break
        _move(numbers, whole, parent, i)
        i = parent
    numbers[i, KEY], numbers[i, LOWER_BOUND], numbers[i, F0], numbers[i, F1] = key, lower, f0, f1
    whole[i, SPHERE], whole[i, NODE], whole[i, HINT], whole[i, TOP] = sphere, node, hint, top


@kernel
def pop(numbers: KernelArray, whole: KernelArray, filled: int) -> None:
    """Take the first entry out of a heap of ``filled`` entries."""
    last = filled - 1
    key = numbers[last, KEY]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= last:
            break
        if child + 1 < last and numbers[child + 1, KEY] < numbers[child, KEY]:
            child += 1
        if numbers[child, KEY] >= key:
            break
        _move(numbers, whole, child, i)
        i = child
    _move(numbers, whole, last, i)


#: Close to contact the interval narrows to a quarter of the distance, down to this, m.
FINEST = 1e-5
#: Time is split while the ball of the motion is larger than this, m, and this share of r, or its
#: slab than that: at a leaf it would have to be split as often, for each leaf anew.
_ROUGH, _ROUGH_SHARE = 1e-4, 0.05
_WIDE, _WIDE_SHARE = 3e-4, 0.25
#: A leaf is only opened when the ball is less than this share of the interval's allowed width,
#: and the slab, along the way to the nearest triangle, less than that many widths.
_LEAF_ROUGH, _LEAF_WIDE = 0.7, 2.0
#: Columns of a result: bounds, time of the upper one, its points, whether the interval is
#: closed, and whether one of the two might lie inside the other at the start.
LOWER, UPPER, TIME, ON_MOVING, ON_STANDING, CLOSED, INSIDE = 0, 1, 2, 3, 6, 9, 10
RESULT = 11


class Bounded(NamedTuple):
    """What is known of an entry: a lower bound, and the body's triangle that seemed nearest.

    ``guess``: how near that triangle seems; it orders the search and proves nothing. ``opened``:
    the entry's triangles were bounded one by one, and the nearest pair is in ``workspace.found``.
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
def threshold(asked: QueryLimits, upper: float) -> float:
    """Lower bound that is enough when ``upper`` has been seen."""
    if upper == np.inf:
        return float(asked.cap)
    return float(min(asked.cap, upper - allowed(asked.tolerance, upper)))


@kernel_inline
def is_narrow(pair: Pair, s: Swept, hint: int, width: float) -> bool:
    """Tell whether the slab is narrow along the way from triangle ``hint`` to the sweep."""
    if hint < 0 or length(s.w1) + length(s.w2) <= width:
        return True
    t = triangle_at(pair.tree.triangles, hint)
    away, _, near = point_triangle(s.m, t[0], t[1], t[2])
    n = sub(s.m, near)
    return bool(abs(dot(n, s.w1)) + abs(dot(n, s.w2)) <= _LEAF_WIDE * width * away)


@kernel_inline
def bound_entry(pair: Pair, sphere: int, node: int, lower: float, hint: int, top: int,
                asked: QueryLimits, workspace: Workspace,
                result: KernelArray) -> Bounded:  # fmt: skip
    """Raise the lower bound of an entry whose sweep is in ``workspace.store``.

    Outside of the body's box ``top`` all is known to be beyond what is asked for.
    """
    s = swept_obb(pair.piece, sphere, workspace.store)
    c = row(pair.piece.sphere, sphere)
    error = error_at(workspace.store, pair.job, c, s.r) + ROUNDING
    need = threshold(asked, result[UPPER])
    workspace.counts[0] += 1
    gap, hint, guess, top = swept_bound(
        pair.tree, s, need + error, lower + error, hint, top, workspace
    )
    # Asked in the same words: subtracting what was added may fall short by a rounding.
    lower = max(lower, need if gap >= need + error else gap - error)
    guess -= error
    if lower >= need or pair.piece.links[sphere, LEFT] >= 0:
        return Bounded(lower, hint, guess, opened=False, top=top)
    splittable = can_split(pair.motion, node)
    width = allowed(asked.tolerance, result[UPPER])
    if error > _LEAF_ROUGH * width or (splittable and not is_narrow(pair, s, hint, width)):
        return Bounded(lower, hint, guess, opened=False, top=top)
    workspace.counts[1] += 1
    leaf_bound(pair, sphere, s, need + error, width / 10.0, splittable, hint, top, workspace)
    if workspace.found[MOVING] < 0.0:
        lower = need
    elif not splittable:
        lower = max(lower, workspace.found[BOUND] - error)
    return Bounded(lower, hint, guess, opened=True, top=top)


@kernel_inline
def divide(pair: Pair, sphere: int, node: int, f0: float, f1: float, bounded: Bounded,
           store: KernelArray, numbers: KernelArray, whole: KernelArray,
           filled: int) -> None:  # fmt: skip
    """Push the two halves of an entry: of its time where the motion is rough, or its sphere."""
    c, r = row(pair.piece.sphere, sphere), pair.piece.sphere[sphere, 3]
    error = error_at(store, pair.job, c, 0.0)
    wide = length(band_vector(store, SLAB_1)) + length(band_vector(store, SLAB_2))
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
