"""When a pair may be nearer than a limit: everything outside of the intervals is proved not to be.

A node of the motion BVH is proved when all spheres and triangles of the piece are bounded by the
limit over it; else it is halved, down to a way of the piece that is too short to matter.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.swept.box_bound import SPHERES, swept_bound, swept_obb
from pathsim.clearance.swept.leaf_bound import MOVING, leaf_bound
from pathsim.clearance.swept.motion_bound import A, B
from pathsim.clearance.swept.records import Chain, Motion, Pair, Workspace
from pathsim.clearance.swept.search import job_of
from pathsim.clearance.swept.swept_pose import can_split, error_at, halves, moment, sweep_over
from pathsim.geometry.bvh import BoxTree, SphereTree
from pathsim.geometry.bvh_split import LEFT, RIGHT, STACK
from pathsim.geometry.mesh import ROUNDING
from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray, row

#: Time is split before the sphere while the ball of the motion is larger than this, m, and
#: this share of the sphere.
_ROUGH, _ROUGH_SHARE = 1e-4, 0.05
#: A leaf is bounded to this share of the limit, or this, m.
_FINE_SHARE, _FINE = 0.25, 1e-5


@kernel
def is_clear(pair: Pair, limit: float, workspace: Workspace, splittable: bool) -> bool:
    """Tell whether the pair is proved to keep ``limit`` over the sweep in ``workspace.store``.

    Where time will be split further (``splittable``) it gives up early.
    """
    spheres = workspace.nodes
    spheres[SPHERES, 0] = pair.job.sphere
    filled, hint = 1, -1
    while filled > 0:
        filled -= 1
        sphere = spheres[SPHERES, filled]
        c, r = row(pair.piece.sphere, sphere), pair.piece.sphere[sphere, 3]
        s = swept_obb(pair.piece, sphere, workspace.store)
        error = error_at(workspace.store, pair.job, c, r) + ROUNDING
        workspace.counts[0] += 1
        gap, hint, _, _ = swept_bound(pair.tree, s, limit + error, np.inf, hint, 0, workspace)
        if gap >= limit + error:
            continue
        if splittable and error > _ROUGH_SHARE * r + _ROUGH:
            return False
        if pair.piece.links[sphere, LEFT] >= 0:
            spheres[SPHERES, filled] = pair.piece.links[sphere, LEFT]
            spheres[SPHERES, filled + 1] = pair.piece.links[sphere, RIGHT]
            filled += 2
            continue
        fine = max(_FINE_SHARE * limit, _FINE)
        workspace.counts[1] += 1
        leaf_bound(pair, sphere, s, limit + error, fine, True, hint, 0, workspace)
        if workspace.found[MOVING] >= 0.0:
            return False
    return True


@kernel_allocating
def intervals_below(tree: BoxTree, piece: SphereTree, chain: Chain, motion: Motion,
                    rows: KernelArray, references: KernelArray, to_body: KernelArray,
                    limit: float, shortest: float,
                    workspace: Workspace) -> KernelArray:  # fmt: skip
    """Spans ``(n, 2)`` of time, in order, outside of which the first pair keeps ``limit``.

    ``shortest``: way of the piece below which time is not divided further, m.
    """
    pair = Pair(tree, piece, chain, motion, job_of(rows, references, 0), to_body)
    nodes, shares = np.empty(4 * STACK, np.int64), np.empty((4 * STACK, 2))
    nodes[0], shares[0, 0], shares[0, 1] = pair.job.node, 0.0, 1.0
    filled, count = 1, 0
    spans = np.empty((64, 2))
    while filled > 0:
        filled -= 1
        node, f0, f1 = nodes[filled], shares[filled, 0], shares[filled, 1]
        first = pair.job.pose + motion.whole[node, A]
        last = pair.job.pose + motion.whole[node, B]
        is_short = (motion.ways[last] - motion.ways[first]) * (f1 - f0) < shortest
        splittable = can_split(motion, node)
        sweep_over(pair, node, f0, f1, workspace.store)
        if is_clear(pair, limit, workspace, splittable and not is_short):
            continue
        if is_short:
            if count == len(spans):
                more = np.empty((2 * count, 2))
                more[:count] = spans
                spans = more
            spans[count, 0] = moment(motion, pair.job, node, f0, f1, 0.0)
            spans[count, 1] = moment(motion, pair.job, node, f0, f1, 1.0)
            count += 1
        elif splittable:
            early, late = halves(motion, node)
            nodes[filled], nodes[filled + 1] = late, early
            shares[filled : filled + 2, 0], shares[filled : filled + 2, 1] = 0.0, 1.0
            filled += 2
        else:
            middle = (f0 + f1) / 2.0
            nodes[filled], nodes[filled + 1] = node, node
            shares[filled, 0], shares[filled, 1] = middle, f1
            shares[filled + 1, 0], shares[filled + 1, 1] = f0, middle
            filled += 2
    return spans[:count]
