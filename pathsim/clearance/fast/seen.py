"""Distances that were really seen: the upper ends, each of two triangles at a true pose.

Any pair of triangles at any moment will do; what is seen early and near spares the search what
lies farther. So two triangles that came nearer are followed along the knots to where they are
nearest.
"""

from __future__ import annotations

from pathsim.clearance.fast.entry import (
    ON_MOVING,
    ON_STANDING,
    TIME,
    UPPER,
    allowed,
)
from pathsim.clearance.fast.leaf import MOVING, SHARE, STANDING
from pathsim.clearance.fast.motion import A, B
from pathsim.clearance.fast.records import Asked, Desk, Pair
from pathsim.clearance.fast.sweep import SEEN, moment, pose_between
from pathsim.clearance.fast.triangles import triangle_triangle
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import Numbers, compose, corner, placed

#: Triangles are followed where they came nearer by this share of what an interval may be wide.
_WORTH = 0.25
#: They are followed by an eighth of the stretch at first, then by half as much, and so on.
_FIRST_STEP = 8


@kernel
def _see(pair: Pair, moving: int, still: int, time: float, store: Numbers,
         result: Numbers) -> bool:  # fmt: skip
    """Measure two triangles at the pose in ``store``; keep them if nearest yet, and tell so."""
    triangles, still_triangles = pair.piece.triangles, pair.tree.triangles
    there = (
        placed(store, SEEN, corner(triangles, moving, 0)),
        placed(store, SEEN, corner(triangles, moving, 1)),
        placed(store, SEEN, corner(triangles, moving, 2)),
    )
    here = (
        corner(still_triangles, still, 0),
        corner(still_triangles, still, 1),
        corner(still_triangles, still, 2),
    )
    distance, on_moving, on_standing = triangle_triangle(there, here)
    if not distance < result[UPPER]:
        return False
    result[UPPER], result[TIME] = distance, time
    for k in range(3):
        result[ON_MOVING + k], result[ON_STANDING + k] = on_moving[k], on_standing[k]
    return True


@kernel
def _see_at_knot(pair: Pair, moving: int, still: int, knot: int, store: Numbers,
                 result: Numbers) -> bool:  # fmt: skip
    motion, job = pair.motion, pair.job
    compose(pair.to_body, 0, motion.poses, job.pose + knot, store, SEEN)
    return bool(_see(pair, moving, still, motion.times[job.knot + knot], store, result))


@kernel
def _follow(pair: Pair, moving: int, still: int, knot: int, store: Numbers,
            result: Numbers) -> None:  # fmt: skip
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
def see_pair(pair: Pair, node: int, f0: float, f1: float, asked: Asked, desk: Desk,
             result: Numbers) -> None:  # fmt: skip
    """Measure the triangles that a leaf found, at their true pose; keep them if nearest yet."""
    found, motion, job, store = desk.found, pair.motion, pair.job, desk.store
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
