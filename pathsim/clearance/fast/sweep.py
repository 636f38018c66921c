"""Where a piece is during a node of time, seen from what stands."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.fast.jit import kernel
from pathsim.clearance.fast.motion import E2, EARLY, ER, OFF, W1, W2, WIDTH, A, B, link_pose
from pathsim.clearance.fast.records import Job, Motion, Pair
from pathsim.clearance.fast.vectors import (
    Numbers,
    Vector,
    add,
    between,
    compose,
    length,
    placed,
    scaled,
    sub,
    turned,
)

#: Rows of the store that describes a sweep: pose at the start, at the end, the node's numbers,
#: and two rows to work in.
START, END, BAND, SPARE, OTHER = 0, 1, 2, 3, 4
ROWS = 5


@kernel
def new_store() -> Numbers:
    """Return room for one sweep."""
    return np.zeros((ROWS, 12))


@kernel
def pose_between(pair: Pair, knot: int, f: float, store: Numbers, which: int) -> None:
    """Write the piece's pose at share ``f`` of the segment behind ``knot``, as the body sees it."""
    motion, job = pair.motion, pair.job
    if f == 0.0:
        compose(pair.to_body, motion.poses[job.pose + knot], store[which])
    elif f == 1.0:
        compose(pair.to_body, motion.poses[job.pose + knot + 1], store[which])
    else:
        first = motion.q[job.knot + knot]
        q = first + f * (motion.q[job.knot + knot + 1] - first)
        chain = pair.chain
        link_pose(chain.fixed, chain.ends, chain.slides, job.own, q, store[SPARE], store[OTHER])
        compose(pair.to_body, store[SPARE], store[which])


@kernel
def sweep_over(pair: Pair, node: int, f0: float, f1: float, store: Numbers) -> None:
    """Describe the piece's motion over a node, or over [f0, f1] of a node of one segment.

    Part of a segment is a segment whose joints move by that share: A goes with its square.
    """
    motion, job = pair.motion, pair.job
    a, b = motion.whole[node, A], motion.whole[node, B]
    band = store[BAND]
    if f0 == 0.0 and f1 == 1.0:
        compose(pair.to_body, motion.poses[job.pose + a], store[START])
        compose(pair.to_body, motion.poses[job.pose + b], store[END])
        for k in range(0, E2, 3):
            inside = motion.numbers[node]
            vector = turned(pair.to_body, (inside[k], inside[k + 1], inside[k + 2]))
            band[k], band[k + 1], band[k + 2] = vector
        band[E2], band[ER] = motion.numbers[node, E2], motion.numbers[node, ER]
        return
    pose_between(pair, a, f0, store, START)
    pose_between(pair, a, f1, store, END)
    for k in range(WIDTH):
        band[k] = 0.0
    band[E2] = motion.bends[job.pose + a] * (f1 - f0) * (f1 - f0) / 8.0


@kernel
def chord(store: Numbers, c: Vector) -> tuple[Vector, Vector]:
    """Middle and half of the way of a point's chord over the sweep, moved by off."""
    a, b = placed(store[START], c), placed(store[END], c)
    band = store[BAND]
    off = (band[OFF], band[OFF + 1], band[OFF + 2])
    return add(between(a, b, 0.5), off), scaled(sub(b, a), 0.5)


@kernel
def slab(store: Numbers) -> tuple[Vector, Vector]:
    """Return the two half widths w1, w2 of the sweep."""
    band = store[BAND]
    return (band[W1], band[W1 + 1], band[W1 + 2]), (band[W2], band[W2 + 1], band[W2 + 2])


@kernel
def error_at(store: Numbers, job: Job, c: Vector, r: float) -> float:
    """Radius of the ball round the slab for all points within ``r`` of ``c``."""
    band = store[BAND]
    return float(band[E2] + band[ER] * (length(sub(c, job.reference)) + r))


@kernel
def can_split(motion: Motion, node: int) -> bool:
    """Tell whether a node has knots inside."""
    return bool(motion.whole[node, EARLY] >= 0)


@kernel
def moment(motion: Motion, job: Job, node: int, f0: float, f1: float, s: float) -> float:
    """Time at share ``s`` of a node."""
    a, b = job.knot + motion.whole[node, A], job.knot + motion.whole[node, B]
    share = f0 + s * (f1 - f0)
    return float(motion.times[a] + share * (motion.times[b] - motion.times[a]))
