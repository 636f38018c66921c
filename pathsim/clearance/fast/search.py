"""Best-first search over time and sphere for the smallest distance of a pair on a stretch.

An entry is a sphere of the piece during a node of time, with a lower bound on the distance of
all its triangles then. One whose bound reaches what is asked for is done; any other is divided,
in time where the motion is the rougher part, else in the sphere, and at the bottom its
triangles are bounded one by one (``leaf.py``). At the bottom of time a segment is halved as
often as needed, with poses worked out anew.

``upper`` is a distance that was really seen: of two triangles at a true pose. What is asked for
is ``min(cap, upper - allowed)``, which only ever falls; so at the end every part of the pair
has been bounded by at least the last of it, or by less, which is then the answer.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.fast.build import LEFT, RIGHT
from pathsim.clearance.fast.heap import (
    F0,
    F1,
    HINT,
    LOWER_BOUND,
    NODE,
    SPHERE,
    key_of,
    larger,
    new_heap,
    pop,
    push,
)
from pathsim.clearance.fast.inner import swept, swept_bound
from pathsim.clearance.fast.leaf import BOUND, MOVING, SHARE, STANDING, leaf_bound
from pathsim.clearance.fast.motion import EARLY, LATE, A, B
from pathsim.clearance.fast.records import (
    Asked,
    BoxTree,
    Chain,
    Desk,
    Job,
    Motion,
    Pair,
    SphereTree,
)
from pathsim.clearance.fast.sweep import (
    START,
    can_split,
    error_at,
    moment,
    pose_between,
    sweep_over,
)
from pathsim.clearance.fast.triangles import triangle_triangle
from pathsim.kernels.jit import kernel, kernel_that_makes
from pathsim.kernels.vectors import Numbers, compose, corner, length, placed, row

#: Close to contact the interval narrows to a quarter of the distance, down to this, m.
FINEST = 1e-5
#: Time is split while the ball of the motion is larger than this, m, and this share of r.
_ROUGH, _ROUGH_SHARE = 1e-4, 0.05
#: Widest slab in a leaf, m.
_WIDE = 5e-3
#: A segment is not halved below this share, and a pair gets no more than this many looks: what
#: is open then stays as wide as it is.
_SHORTEST = 1e-6
MOST_LOOKS = 300_000
#: Rounding in coordinates of up to 1000 m stays below this, m.
ROUNDING = 1e-9
#: Columns of a result: bounds, time of the upper one, its points, whether the interval is
#: closed, and whether one of the two might lie inside the other at the start.
LOWER, UPPER, TIME, ON_MOVING, ON_STANDING, CLOSED, INSIDE = 0, 1, 2, 3, 6, 9, 10
RESULT = 11


class Progress(NamedTuple):
    """A search that was left: entries in its heap, looks, and what is proved of all that left it.

    ``wants_room``: it was left because the heap was full.
    """

    filled: int
    looks: int
    proved: float
    wants_room: bool


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


@kernel
def see_pair(pair: Pair, node: int, f0: float, f1: float, desk: Desk, result: Numbers) -> None:
    """Measure the triangles that a leaf found, at their true pose; keep them if nearest yet."""
    found, motion, job, store = desk.found, pair.motion, pair.job, desk.store
    triangles, still_triangles = pair.piece.triangles, pair.tree.triangles
    if found[MOVING] < 0.0:
        return
    time = moment(motion, job, node, f0, f1, found[SHARE])
    knot, last = motion.whole[node, A], motion.whole[node, B]
    while last - knot > 1:
        middle = (knot + last) // 2
        if motion.times[job.knot + middle] <= time:
            knot = middle
        else:
            last = middle
    start, end = motion.times[job.knot + knot], motion.times[job.knot + knot + 1]
    f = min(max((time - start) / (end - start), 0.0), 1.0)
    pose_between(pair, knot, f, store, START)
    moving, still = int(found[MOVING]), int(found[STANDING])
    there = (
        placed(store, START, corner(triangles, moving, 0)),
        placed(store, START, corner(triangles, moving, 1)),
        placed(store, START, corner(triangles, moving, 2)),
    )
    here = (
        corner(still_triangles, still, 0),
        corner(still_triangles, still, 1),
        corner(still_triangles, still, 2),
    )
    distance, on_moving, on_standing = triangle_triangle(there, here)
    if distance < result[UPPER]:
        result[UPPER], result[TIME] = distance, time
        for k in range(3):
            result[ON_MOVING + k], result[ON_STANDING + k] = on_moving[k], on_standing[k]


@kernel
def bound_entry(pair: Pair, sphere: int, node: int, lower: float, hint: int, asked: Asked,
                desk: Desk, result: Numbers) -> tuple[float, int, bool]:  # fmt: skip
    """Raise the lower bound of an entry whose sweep is in ``desk.store``.

    Returns it, the triangle of the body that is nearest, and whether a leaf was opened, whose
    nearest pair then is in ``desk.found``.
    """
    s = swept(pair.piece, sphere, desk.store)
    c = row(pair.piece.sphere, sphere)
    error = error_at(desk.store, pair.job, c, s.r) + ROUNDING
    need = threshold(asked, result[UPPER])
    desk.counts[0] += 1
    gap, hint = swept_bound(pair.tree, s, need + error, lower + error, hint, desk)
    # Asked in the same words: subtracting what was added may fall short by a rounding.
    lower = max(lower, need if gap >= need + error else gap - error)
    if lower >= need or pair.piece.links[sphere, LEFT] >= 0:
        return lower, hint, False
    splittable = can_split(pair.motion, node)
    width = allowed(asked.tolerance, result[UPPER])
    if splittable and (error > 0.4 * width or length(s.w1) + length(s.w2) > _WIDE):
        return lower, hint, False
    desk.counts[1] += 1
    leaf_bound(pair, sphere, s, need + error, width / 10.0, splittable, desk)
    if desk.found[MOVING] < 0.0:
        lower = need
    elif not splittable:
        lower = max(lower, desk.found[BOUND] - error)
    return lower, hint, True


@kernel
def divide(pair: Pair, sphere: int, node: int, f0: float, f1: float, lower: float, hint: int,
           store: Numbers, numbers: Numbers, whole: Numbers, filled: int) -> None:  # fmt: skip
    """Push the two halves of an entry: of its time where the motion is rough, or its sphere."""
    c, r = row(pair.piece.sphere, sphere), pair.piece.sphere[sphere, 3]
    error = error_at(store, pair.job, c, 0.0)
    is_leaf = pair.piece.links[sphere, LEFT] < 0
    key = key_of(lower, r + error)
    if can_split(pair.motion, node) and (is_leaf or error > _ROUGH_SHARE * r + _ROUGH):
        early, late = pair.motion.whole[node, EARLY], pair.motion.whole[node, LATE]
        push(numbers, whole, filled, key, lower, sphere, early, hint, 0.0, 1.0)
        push(numbers, whole, filled + 1, key, lower, sphere, late, hint, 0.0, 1.0)
    elif is_leaf:
        middle = (f0 + f1) / 2.0
        push(numbers, whole, filled, key, lower, sphere, node, hint, f0, middle)
        push(numbers, whole, filled + 1, key, lower, sphere, node, hint, middle, f1)
    else:
        left, right = pair.piece.links[sphere, LEFT], pair.piece.links[sphere, RIGHT]
        push(numbers, whole, filled, key, lower, left, node, hint, f0, f1)
        push(numbers, whole, filled + 1, key, lower, right, node, hint, f0, f1)


@kernel
def closest(pair: Pair, asked: Asked, numbers: Numbers, whole: Numbers, desk: Desk,
            result: Numbers, so_far: Progress) -> Progress:  # fmt: skip
    """Bound the smallest distance of one pair on one stretch into ``result (RESULT,)``.

    ``numbers``, ``whole``: the heap. ``so_far`` is ``at_the_root()``'s, or what was returned when
    the heap was full: then it wants more room. ``result[UPPER]`` may come in below infinity,
    if such a distance has been seen.
    """
    filled, looks, proved = so_far.filled, so_far.looks, so_far.proved
    stored = (-1, 0.0, 0.0)
    # At FINEST and below any lower end, also 0, is within what is allowed.
    while filled > 0 and result[UPPER] > FINEST:
        if filled + 2 > len(numbers):
            return Progress(filled, looks, proved, wants_room=True)
        lower, f0, f1 = numbers[0, LOWER_BOUND], numbers[0, F0], numbers[0, F1]
        sphere, node, hint = whole[0, SPHERE], whole[0, NODE], whole[0, HINT]
        pop(numbers, whole, filled)
        filled -= 1
        is_open = lower < threshold(asked, result[UPPER])
        if not is_open and lower > 0.0:
            proved = min(proved, lower)
            break  # all that are left have at least this bound
        if is_open:
            if stored != (node, f0, f1):
                sweep_over(pair, node, f0, f1, desk.store)
                stored = (node, f0, f1)
            lower, hint, opened = bound_entry(pair, sphere, node, lower, hint, asked, desk, result)
            is_open = lower < threshold(asked, result[UPPER])
            if is_open and opened:
                see_pair(pair, node, f0, f1, desk, result)
                stored = (-1, 0.0, 0.0)
                is_open = lower < threshold(asked, result[UPPER])
        looks += 1
        if is_open and (f1 - f0 < _SHORTEST or looks > MOST_LOOKS):
            result[CLOSED] = 0.0  # cannot be divided further: the interval stays wider
            is_open = False
        if not is_open:
            proved = min(proved, lower)
            continue
        divide(pair, sphere, node, f0, f1, lower, hint, desk.store, numbers, whole, filled)
        filled += 2
    for i in range(filled):
        proved = min(proved, numbers[i, LOWER_BOUND])
    result[LOWER] = max(min(proved, result[UPPER]), 0.0)
    return Progress(filled, looks, proved, wants_room=False)


@kernel
def at_the_root(pair: Pair, numbers: Numbers, whole: Numbers, result: Numbers) -> Progress:
    """Put the whole pair into an empty heap."""
    push(numbers, whole, 0, -np.inf, -np.inf, pair.job.sphere, pair.job.node, -1, 0.0, 1.0)
    result[CLOSED] = 1.0
    return Progress(1, 0, np.inf, wants_room=False)


@kernel
def job_of(rows: Numbers, references: Numbers, i: int) -> Job:
    """Row ``i`` of jobs as a record."""
    return Job(rows[i, 0], rows[i, 1], rows[i, 2], rows[i, 3], rows[i, 4], row(references, i))


@kernel
def boxes_meet(pair: Pair, store: Numbers) -> bool:
    """Tell whether the piece's sphere meets the body's box at the start.

    Only then can one of the two lie inside the other.
    """
    compose(pair.to_body, 0, pair.motion.poses, pair.job.pose, store, START)
    c = placed(store, START, row(pair.piece.sphere, pair.job.sphere))
    squares = 0.0
    for k in range(3):
        gap = max(pair.tree.box[0, k] - c[k], c[k] - pair.tree.box[0, 3 + k], 0.0)
        squares += gap * gap
    return bool(np.sqrt(squares) <= pair.piece.sphere[pair.job.sphere, 3] + ROUNDING)


@kernel_that_makes
def closest_of_all(tree: BoxTree, piece: SphereTree, chain: Chain, motion: Motion, rows: Numbers,
                   references: Numbers, to_body: Numbers, tolerance: float, caps: Numbers,
                   results: Numbers, desk: Desk) -> None:  # fmt: skip
    """Bound all pairs with one body: ``rows (n, 5)``, ``references (n, 3)``: fields of ``Job``.

    ``tolerance`` m; ``caps (n,)`` m, for each its own.
    """
    numbers, whole = new_heap()
    for i in range(len(rows)):
        job = job_of(rows, references, i)
        pair = Pair(tree, piece, chain, motion, job, to_body)
        results[i, INSIDE] = 1.0 if boxes_meet(pair, desk.store) else 0.0
        asked = Asked(tolerance, caps[i])
        so_far = at_the_root(pair, numbers, whole, results[i])
        so_far = closest(pair, asked, numbers, whole, desk, results[i], so_far)
        while so_far.wants_room:
            numbers, whole = larger(numbers, whole, so_far.filled)
            so_far = closest(pair, asked, numbers, whole, desk, results[i], so_far)
