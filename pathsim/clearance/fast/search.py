"""Best-first search over time and sphere for the smallest distance of a pair on a stretch.

An entry is a sphere of the piece during a node of time, with a lower bound on the distance of
all its triangles then (``entry.py``). Those that seem nearest are looked at first.

``upper`` is a distance that was really seen (``seen.py``). What is asked for
is ``min(cap, upper - allowed)``, which only ever falls; so at the end every part of the pair
has been bounded by at least the last of it, or by less, which is then the answer.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.clearance.fast.entry import (
    CLOSED,
    FINEST,
    INSIDE,
    LOWER,
    ROUNDING,
    UPPER,
    bound_entry,
    divide,
    threshold,
)
from pathsim.clearance.fast.heap import (
    F0,
    F1,
    HINT,
    LOWER_BOUND,
    NODE,
    SPHERE,
    TOP,
    larger,
    new_heap,
    pop,
    push,
)
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
from pathsim.clearance.fast.seen import see_pair
from pathsim.clearance.fast.sweep import START, sweep_over
from pathsim.kernels.jit import kernel, kernel_that_makes
from pathsim.kernels.vectors import Numbers, compose, placed, row

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
        sphere, node, hint, top = whole[0, SPHERE], whole[0, NODE], whole[0, HINT], whole[0, TOP]
        pop(numbers, whole, filled)
        filled -= 1
        if lower >= threshold(asked, result[UPPER]):
            proved = min(proved, lower)
            continue
        if stored != (node, f0, f1):
            sweep_over(pair, node, f0, f1, desk.store)
            stored = (node, f0, f1)
        bounded = bound_entry(pair, sphere, node, lower, hint, top, asked, desk, result)
        is_open = bounded.lower < threshold(asked, result[UPPER])
        if is_open and bounded.opened:
            see_pair(pair, node, f0, f1, asked, desk, result)
            is_open = bounded.lower < threshold(asked, result[UPPER])
        looks += 1
        if is_open and (f1 - f0 < _SHORTEST or looks > MOST_LOOKS):
            result[CLOSED] = 0.0  # cannot be divided further: the interval stays wider
            is_open = False
        if not is_open:
            proved = min(proved, bounded.lower)
            continue
        divide(pair, sphere, node, f0, f1, bounded, desk.store, numbers, whole, filled)
        filled += 2
    for i in range(filled):
        proved = min(proved, numbers[i, LOWER_BOUND])
    result[LOWER] = max(min(proved, result[UPPER]), 0.0)
    return Progress(filled, looks, proved, wants_room=False)


@kernel
def at_the_root(pair: Pair, numbers: Numbers, whole: Numbers, result: Numbers) -> Progress:
    """Put the whole pair into an empty heap."""
    push(numbers, whole, 0, -np.inf, -np.inf, pair.job.sphere, pair.job.node, -1, 0, 0.0, 1.0)
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
        desk.guess[:] = 0.0  # whatever was asked before must not show in an answer
        results[i, INSIDE] = 1.0 if boxes_meet(pair, desk.store) else 0.0
        asked = Asked(tolerance, caps[i])
        so_far = at_the_root(pair, numbers, whole, results[i])
        while True:
            so_far = closest(pair, asked, numbers, whole, desk, results[i], so_far)
            if not so_far.wants_room:
                break
            numbers, whole = larger(numbers, whole, so_far.filled)
