"""Best-first branch and bound over time and space for the smallest distance of a pair.

A node is a sphere of the piece during a node of the motion BVH, with a lower bound on the distance
of all its triangles then (``search_node.py``). Those that seem nearest come first.

Upper bounds are distances at true poses (``see_pair``): any pair of triangles at any moment will
do, and what is seen early and near prunes what lies farther. So two triangles that came nearer are
followed along the knots to where they are nearest.

What is asked for is ``min(cap, upper - allowed)``, which only ever falls; so at the end every part
of the pair has been bounded by at least the last of it, or by less, which is then the answer.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.swept.leaf_bound import MOVING, SHARE, STANDING
from pathsim.clearance.swept.motion_bound import A, B
from pathsim.clearance.swept.records import Chain, Job, Motion, Pair, QueryLimits, Workspace
from pathsim.clearance.swept.search_node import (
    CLOSED,
    F0,
    F1,
    FINEST,
    HINT,
    INSIDE,
    LOWER,
    LOWER_BOUND,
    NODE,
    ON_MOVING,
    ON_STANDING,
    SPHERE,
    TIME,
    TOP,
    UPPER,
    allowed,
    bound_entry,
    divide,
    larger,
    new_heap,
    pop,
    push,
    threshold,
)
from pathsim.clearance.swept.swept_pose import SEEN, START, moment, pose_between, sweep_over
from pathsim.geometry.bvh import BoxTree, SphereTree
from pathsim.geometry.mesh import ROUNDING
from pathsim.geometry.triangle_distance import triangle_at, triangle_placed, triangle_triangle
from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray, compose, placed, row

#: Triangles are followed where they came nearer by this share of what an interval may be wide.
_WORTH = 0.25
#: They are followed by an eighth of the stretch at first, then by half as much, and so on.
_FIRST_STEP = 8


@kernel
def _see(pair: Pair, moving: int, still: int, time: float, store: KernelArray,
         result: KernelArray) -> bool:  # fmt: skip
    """Measure two triangles at the pose in ``store``; keep them if nearest yet, and tell so."""
    there = triangle_placed(store, SEEN, pair.piece.triangles, moving)
    here = triangle_at(pair.tree.triangles, still)
    distance, on_moving, on_standing = triangle_triangle(there, here)
    if not distance < result[UPPER]:
        return False
    result[UPPER], result[TIME] = distance, time
    for k in range(3):
        result[ON_MOVING + k], result[ON_STANDING + k] = on_moving[k], on_standing[k]
    return True


@kernel
def _see_at_knot(pair: Pair, moving: int, still: int, knot: int, store: KernelArray,
                 result: KernelArray) -> bool:  # fmt: skip
    motion, job = pair.motion, pair.job
    compose(pair.to_body, 0, motion.poses, job.pose + knot, store, SEEN)
    return bool(_see(pair, moving, still, motion.times[job.knot + knot], store, result))


@kernel
def _follow(pair: Pair, moving: int, still: int, knot: int, store: KernelArray,
            result: KernelArray) -> None:  # fmt: skip
    """Go from a knot to others, as long as two triangles are nearer there."""
    last = pair.motion.whole[pair.job.node, B]
    step = max(last // _FIRST_STEP, 1)
    while step > 0:
        if knot + step <= last and _see_at_knot(pair, moving, still, knot + step, store, result):
            knot += step
        elif knot - step >= 0 and _see_at_knot(pair, moving, still, knot - step, store, result):
            knot -= step
        else:
            step //= 2


@kernel
def see_pair(pair: Pair, node: int, f0: float, f1: float, asked: QueryLimits, workspace: Workspace,
             result: KernelArray) -> None:  # fmt: skip
    """Measure the triangles that a leaf found, at their true pose; keep them if nearest yet."""
    found, motion, job, store = workspace.found, pair.motion, pair.job, workspace.store
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
    pose_between(pair, knot, f, store, SEEN)
    moving, still, before = int(found[MOVING]), int(found[STANDING]), result[UPPER]
    if _see(pair, moving, still, time, store, result):
        gained = before - result[UPPER]
        if gained > _WORTH * allowed(asked.tolerance, result[UPPER]):
            _follow(pair, moving, still, knot if f < 0.5 else knot + 1, store, result)


#: A segment is not halved below this share, and a pair gets no more than this many looks: what
#: is open then stays as wide as it is.
_SHORTEST = 1e-6
MOST_LOOKS = 300_000


class Progress(NamedTuple):
    """A search that was left: entries in its heap, looks, and what is proved of all that left it.

    ``wants_room``: it was left because the heap was full.
    """

    filled: int
    looks: int
    proved: float
    wants_room: bool


@kernel
def closest(pair: Pair, asked: QueryLimits, numbers: KernelArray, whole: KernelArray,
            workspace: Workspace, result: KernelArray, so_far: Progress) -> Progress:  # fmt: skip
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
        sphere, node, hint, top = whole[0, SPHERE], whole[0, NODE], whole[0, HINT], whole[0, TOP]
        pop(numbers, whole, filled)
        filled -= 1
        if lower >= threshold(asked, result[UPPER]):
            proved = min(proved, lower)
            continue
        if stored != (node, f0, f1):
            sweep_over(pair, node, f0, f1, workspace.store)
            stored = (node, f0, f1)
        bounded = bound_entry(pair, sphere, node, lower, hint, top, asked, workspace, result)
        is_open = bounded.lower < threshold(asked, result[UPPER])
        if is_open and bounded.opened:
            see_pair(pair, node, f0, f1, asked, workspace, result)
            is_open = bounded.lower < threshold(asked, result[UPPER])
        looks += 1
        if is_open and (f1 - f0 < _SHORTEST or looks > MOST_LOOKS):
            result[CLOSED] = 0.0  # cannot be divided further: the interval stays wider
            is_open = False
        if not is_open:
            proved = min(proved, bounded.lower)
            continue
        divide(pair, sphere, node, f0, f1, bounded, workspace.store, numbers, whole, filled)
        filled += 2
    for i in range(filled):
        proved = min(proved, numbers[i, LOWER_BOUND])
    result[LOWER] = max(min(proved, result[UPPER]), 0.0)
    return Progress(filled, looks, proved, wants_room=False)


@kernel
def at_the_root(
    pair: Pair, numbers: KernelArray, whole: KernelArray, result: KernelArray
) -> Progress:
    """Put the whole pair into an empty heap."""
    push(numbers, whole, 0, -np.inf, -np.inf, pair.job.sphere, pair.job.node, -1, 0, 0.0, 1.0)
    result[CLOSED] = 1.0
    return Progress(1, 0, np.inf, wants_room=False)


@kernel
def job_of(rows: KernelArray, references: KernelArray, i: int) -> Job:
    """Row ``i`` of jobs as a record."""
    return Job(rows[i, 0], rows[i, 1], rows[i, 2], rows[i, 3], rows[i, 4], row(references, i))


@kernel
def boxes_meet(pair: Pair, store: KernelArray) -> bool:
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


@kernel_allocating
def search_all(tree: BoxTree, piece: SphereTree, chain: Chain, motion: Motion, rows: KernelArray,
               references: KernelArray, to_body: KernelArray, tolerance: float, caps: KernelArray,
               results: KernelArray, workspace: Workspace) -> None:  # fmt: skip
    """Bound all pairs with one body: ``rows (n, 5)``, ``references (n, 3)``: fields of ``Job``.

    ``tolerance`` m; ``caps (n,)`` m, for each its own.
    """
    numbers, whole = new_heap()
    for i in range(len(rows)):
        job = job_of(rows, references, i)
        pair = Pair(tree, piece, chain, motion, job, to_body)
        workspace.guess[:] = 0.0  # whatever was asked before must not show in an answer
        results[i, INSIDE] = 1.0 if boxes_meet(pair, workspace.store) else 0.0
        asked = QueryLimits(tolerance, caps[i])
        so_far = at_the_root(pair, numbers, whole, results[i])
        while True:
            so_far = closest(pair, asked, numbers, whole, workspace, results[i], so_far)
            if not so_far.wants_room:
                break
            numbers, whole = larger(numbers, whole, so_far.filled)
