"""Where a piece is during a node of time, seen from the obstacle: the swept pose."""

from __future__ import annotations

from pathsim.clearance.swept.link_pose import link_pose
from pathsim.clearance.swept.motion_bound import (
    BALL,
    EARLY,
    LATE,
    OFFSET,
    ROTATION_BALL,
    WIDTH,
    A,
    B,
)
from pathsim.clearance.swept.records import Job, Motion, Pair
from pathsim.kernels.jit import kernel, kernel_inline
from pathsim.kernels.vectors import (
    KernelArray,
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
#: two rows to work in, and the pose at which triangles are looked at.
START, END, BAND, SPARE, OTHER, SEEN = 0, 1, 2, 3, 4, 5
ROWS = 6


@kernel_inline
def pose_between(pair: Pair, knot: int, f: float, store: KernelArray, which: int) -> None:
    """Write the piece's pose at share ``f`` of the segment behind ``knot``, as the body sees it."""
    job = pair.job
    if f == 0.0:
        compose(pair.to_body, 0, pair.motion.poses, job.pose + knot, store, which)
    elif f == 1.0:
        compose(pair.to_body, 0, pair.motion.poses, job.pose + knot + 1, store, which)
    else:
        chain, q = pair.chain, pair.motion.q
        link_pose(
            chain.fixed, chain.ends, chain.slides, job.own, q, job.knot + knot, f, store, SPARE,
            OTHER,
        )  # fmt: skip
        compose(pair.to_body, 0, store, SPARE, store, which)


@kernel_inline
def sweep_over(pair: Pair, node: int, f0: float, f1: float, store: KernelArray) -> None:
    """Describe the piece's motion over a node, or over [f0, f1] of a node of one segment.

    Part of a segment is a segment whose joints move by that share: A goes with its square.
    """
    pose, whole, numbers = pair.job.pose, pair.motion.whole, pair.motion.numbers
    to_body, poses = pair.to_body, pair.motion.poses
    a, b = whole[node, A], whole[node, B]
    if f0 == 0.0 and f1 == 1.0:
        compose(to_body, 0, poses, pose + a, store, START)
        compose(to_body, 0, poses, pose + b, store, END)
        for k in range(0, BALL, 3):
            inside = (numbers[node, k], numbers[node, k + 1], numbers[node, k + 2])
            vector = turned(to_body, 0, inside)
            store[BAND, k], store[BAND, k + 1], store[BAND, k + 2] = vector
        store[BAND, BALL], store[BAND, ROTATION_BALL] = (
            numbers[node, BALL],
            numbers[node, ROTATION_BALL],
        )
        return
    pose_between(pair, a, f0, store, START)
    pose_between(pair, a, f1, store, END)
    for k in range(WIDTH):
        store[BAND, k] = 0.0
    store[BAND, BALL] = pair.motion.bends[pose + a] * (f1 - f0) * (f1 - f0) / 8.0


@kernel
def band_vector(store: KernelArray, k: int) -> Vector:
    """Vector at column ``k`` of the node's numbers: OFF, W1 or W2."""
    return (store[BAND, k], store[BAND, k + 1], store[BAND, k + 2])


@kernel
def chord(store: KernelArray, c: Vector) -> tuple[Vector, Vector]:
    """Middle and half of the way of a point's chord over the sweep, moved by off."""
    a, b = placed(store, START, c), placed(store, END, c)
    return add(between(a, b, 0.5), band_vector(store, OFFSET)), scaled(sub(b, a), 0.5)


@kernel_inline
def error_at(store: KernelArray, job: Job, c: Vector, r: float) -> float:
    """Radius of the ball round the slab for all points within ``r`` of ``c``."""
    return float(
        store[BAND, BALL] + store[BAND, ROTATION_BALL] * (length(sub(c, job.reference)) + r)
    )


@kernel
def can_split(motion: Motion, node: int) -> bool:
    """Tell whether a node has knots inside."""
    return bool(motion.whole[node, EARLY] > 0)


@kernel
def halves(motion: Motion, node: int) -> tuple[int, int]:
    """Return the earlier and the later child of a node that can be split."""
    return node + motion.whole[node, EARLY], node + motion.whole[node, LATE]


@kernel
def moment(motion: Motion, job: Job, node: int, f0: float, f1: float, s: float) -> float:
    """Time at share ``s`` of a node."""
    a, b = job.knot + motion.whole[node, A], job.knot + motion.whole[node, B]
    share = f0 + s * (f1 - f0)
    return float(motion.times[a] + share * (motion.times[b] - motion.times[a]))
