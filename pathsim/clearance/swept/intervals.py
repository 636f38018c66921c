"""When a pair may be nearer than a limit: everything outside of the intervals is proved not to be.

A node of the motion BVH is proved when all spheres and triangles of the piece are bounded by the
limit over it; else it is halved, down to a way of the piece that is too short to matter.

Where the pair is seen to be near at an end of a node, no proof over the node can succeed, and none
is tried; where it is not, most proofs do, and come before the look in its middle. A node in which
the piece goes no farther than a *joined* way, and that is near at its start, middle and end, is
near as a whole: a gap in it, shorter than half that way, is not told apart. A look only ever adds
to the intervals, so it needs no proof.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.swept.box_bound import SPHERES, TOPS, swept_bound, swept_obb
from pathsim.clearance.swept.leaf_bound import MOVING, STANDING, leaf_bound
from pathsim.clearance.swept.motion_bound import A, B
from pathsim.clearance.swept.records import Chain, Motion, Pair, Workspace
from pathsim.clearance.swept.search import job_of
from pathsim.clearance.swept.swept_pose import (
    BAND,
    END,
    START,
    can_split,
    error_at,
    halves,
    moment,
    pose_between,
    sweep_over,
)
from pathsim.geometry.bvh import BoxTree, SphereTree
from pathsim.geometry.bvh_split import LEFT, RIGHT, STACK
from pathsim.geometry.mesh import ROUNDING
from pathsim.geometry.triangle_distance import triangle_at, triangle_placed, triangle_triangle
from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray, corner, length, placed, row, sub

#: Time is split before the sphere while the ball of the motion is larger than this, m, and
#: this share of the sphere.
_ROUGH, _ROUGH_SHARE = 1e-4, 0.05
#: So many pairs of triangles that were near are looked at before all others.
_REMEMBERED = 3
#: A leaf is bounded to this share of the limit, or this, m.
_FINE_SHARE, _FINE = 0.25, 1e-5


@kernel
def is_clear(pair: Pair, limit: float, workspace: Workspace, splittable: bool) -> bool:
    """Tell whether the pair is proved to keep ``limit`` over the sweep in ``workspace.store``.

    Where time will be split further (``splittable``) it gives up early.
    """
    spheres = workspace.nodes
    spheres[SPHERES, 0], spheres[TOPS, 0] = pair.job.sphere, 0
    filled, hint = 1, -1
    while filled > 0:
        filled -= 1
        sphere, top = spheres[SPHERES, filled], spheres[TOPS, filled]
        c, r = row(pair.piece.sphere, sphere), pair.piece.sphere[sphere, 3]
        s = swept_obb(pair.piece, sphere, workspace.store)
        error = error_at(workspace.store, pair.job, c, r) + ROUNDING
        workspace.counts[0] += 1
        # Outside of the box ``top`` nothing of these triangles comes nearer than the limit.
        gap, hint, _, top = swept_bound(pair.tree, s, limit + error, np.inf, hint, top, workspace)
        if gap >= limit + error:
            continue
        if splittable and error > _ROUGH_SHARE * r + _ROUGH:
            return False
        if pair.piece.links[sphere, LEFT] >= 0:
            spheres[SPHERES, filled] = pair.piece.links[sphere, LEFT]
            spheres[SPHERES, filled + 1] = pair.piece.links[sphere, RIGHT]
            spheres[TOPS, filled], spheres[TOPS, filled + 1] = top, top
            filled += 2
            continue
        fine = max(_FINE_SHARE * limit, _FINE)
        workspace.counts[1] += 1
        leaf_bound(pair, sphere, s, limit + error, fine, True, hint, top, workspace)
        if workspace.found[MOVING] >= 0.0:
            return False
    return True


@kernel
def near_at(pair: Pair, knot: int, f: float, limit: float, last: KernelArray,
            workspace: Workspace) -> bool:  # fmt: skip
    """Tell whether the pair is seen nearer than ``limit`` at share ``f`` of a segment.

    ``last (2 k,)``: what was near at other moments is looked at first: a triangle of the piece and
    one of the body each (-1: none). What is near now is put before them, the oldest is forgotten.
    Near the newest of them what is near now is looked for first.
    """
    store, nodes = workspace.store, workspace.nodes
    pose_between(pair, knot, f, store, START)
    for k in range(0, len(last), 2):
        if last[k] >= 0 and _are_near(pair, last[k], last[k + 1], limit, store):
            return True
    for k in range(store.shape[1]):
        store[END, k], store[BAND, k] = store[START, k], 0.0
    nodes[SPHERES, 0], nodes[TOPS, 0] = pair.job.sphere, 0
    filled, hint = 1, last[1]
    while filled > 0:
        filled -= 1
        sphere, top = nodes[SPHERES, filled], nodes[TOPS, filled]
        left, right = pair.piece.links[sphere, LEFT], pair.piece.links[sphere, RIGHT]
        s = swept_obb(pair.piece, sphere, store)
        workspace.counts[0] += 1
        gap, hint, _, top = swept_bound(pair.tree, s, limit, np.inf, hint, top, workspace)
        if gap >= limit:
            continue
        if left >= 0:
            if hint >= 0 and _is_nearer(pair, left, right, hint, store):
                left, right = right, left
            nodes[SPHERES, filled], nodes[SPHERES, filled + 1] = left, right
            nodes[TOPS, filled], nodes[TOPS, filled + 1] = top, top
            filled += 2
        elif _is_leaf_near(pair, sphere, limit, hint, top, last, workspace):
            return True
    return False


@kernel
def _is_nearer(pair: Pair, one: int, other: int, still: int, store: KernelArray) -> bool:
    """Tell which of two spheres seems nearer to a triangle, at the pose in the store."""
    spheres, place = pair.piece.sphere, corner(pair.tree.triangles, still, 0)
    first = length(sub(placed(store, START, row(spheres, one)), place)) - spheres[one, 3]
    second = length(sub(placed(store, START, row(spheres, other)), place)) - spheres[other, 3]
    return bool(first < second)


@kernel
def _are_near(pair: Pair, moving: int, still: int, limit: float, store: KernelArray) -> bool:
    """Tell whether two triangles are nearer than ``limit`` at the pose in the store."""
    there = triangle_placed(store, START, pair.piece.triangles, moving)
    here = triangle_at(pair.tree.triangles, still)
    return bool(triangle_triangle(there, here)[0] < limit)


@kernel
def _is_leaf_near(pair: Pair, sphere: int, limit: float, hint: int, top: int, last: KernelArray,
                  workspace: Workspace) -> bool:  # fmt: skip
    """Tell whether a leaf is nearer than ``limit``, or hardly farther, at the pose in the store.

    Nothing outside of the body's box ``top`` is. What is near is put first in ``last (2 k,)``.
    """
    s = swept_obb(pair.piece, sphere, workspace.store)
    workspace.counts[1] += 1
    leaf_bound(pair, sphere, s, limit, _FINE, True, hint, top, workspace)
    if not workspace.found[MOVING] >= 0.0:
        return False
    for k in range(len(last) - 1, 1, -1):
        last[k] = last[k - 2]
    last[0], last[1] = int(workspace.found[MOVING]), int(workspace.found[STANDING])
    return True


@kernel_allocating
def intervals_below(tree: BoxTree, piece: SphereTree, chain: Chain, motion: Motion,
                    rows: KernelArray, references: KernelArray, to_body: KernelArray,
                    limit: float, shortest: float, joined: float,
                    workspace: Workspace) -> KernelArray:  # fmt: skip
    """Spans ``(n, 2)`` of time, in order, outside of which the first pair keeps ``limit``.

    ``shortest``, ``joined``: ways of the piece, m. Below the first, time is not divided further;
    below the second not where the pair is seen nearer than ``limit`` at start, middle and end.
    Spans that meet are one.
    """
    pair = Pair(tree, piece, chain, motion, job_of(rows, references, 0), to_body)
    nodes, shares = np.empty(4 * STACK, np.int64), np.empty((4 * STACK, 2))
    was_near = np.zeros((4 * STACK, 2), np.int64)  # at the start of each node, and at its end
    nodes[0], shares[0, 0], shares[0, 1] = pair.job.node, 0.0, 1.0
    filled, count = 1, 0
    spans = np.empty((64, 2))
    near_until = -np.inf  # the end of a node is the start of the next one
    seen = np.full(2 * _REMEMBERED, -1)
    while filled > 0:
        filled -= 1
        node, f0, f1 = nodes[filled], shares[filled, 0], shares[filled, 1]
        start = moment(motion, pair.job, node, f0, f1, 0.0)
        end = moment(motion, pair.job, node, f0, f1, 1.0)
        way = _way(pair, node) * (f1 - f0)
        near_start = was_near[filled, 0] > 0 or near_until == start
        near_end = was_near[filled, 1] > 0
        is_last = way < shortest
        # A pair near at an end is not proved far over the node. Whoever asks for the whole knows
        # that it comes near: there a proof would fail, and is only tried if nothing is divided.
        is_whole = node == pair.job.node and f1 - f0 == 1.0
        provable = not (near_start or near_end) and (is_last or not is_whole)
        if provable and _is_far(pair, node, f0, f1, limit, is_last, workspace):
            continue
        is_seen = not is_last and near_in_the_middle(pair, node, f0, f1, limit, seen, workspace)
        is_near = is_last
        if is_seen and way < joined:
            if not near_start:
                near_start = near_at(pair, motion.whole[node, A], f0, limit, seen, workspace)
            if near_start and not near_end:
                last = motion.whole[node, B] - 1
                near_end = near_at(pair, last, f1, limit, seen, workspace)
            is_near = near_start and near_end
            near_until = end if is_near else near_until
        if not is_near:
            ends = near_start, is_seen, near_end
            filled = _push_halves(motion, node, f0, f1, ends, nodes, shares, was_near, filled)
        elif count > 0 and spans[count - 1, 1] >= start:
            spans[count - 1, 1] = end
        else:
            if count == len(spans):
                more = np.empty((2 * count, 2))
                more[:count] = spans
                spans = more
            spans[count, 0], spans[count, 1] = start, end
            count += 1
    return spans[:count]


@kernel
def _way(pair: Pair, node: int) -> float:
    """How far the piece may go during a node of time, m."""
    whole, ways, first = pair.motion.whole, pair.motion.ways, pair.job.pose
    return float(ways[first + whole[node, B]] - ways[first + whole[node, A]])


@kernel
def _is_far(pair: Pair, node: int, f0: float, f1: float, limit: float, is_last: bool,
            workspace: Workspace) -> bool:  # fmt: skip
    """Tell whether the pair is proved to keep ``limit`` over a node.

    ``is_last``: it is not divided further, so that the proof is tried to the end.
    """
    sweep_over(pair, node, f0, f1, workspace.store)
    return bool(is_clear(pair, limit, workspace, can_split(pair.motion, node) and not is_last))


@kernel
def near_in_the_middle(pair: Pair, node: int, f0: float, f1: float, limit: float,
                       last: KernelArray, workspace: Workspace) -> bool:  # fmt: skip
    """Tell whether the pair is near where a node would be divided."""
    if not can_split(pair.motion, node):
        f = (f0 + f1) / 2.0
        return bool(near_at(pair, pair.motion.whole[node, A], f, limit, last, workspace))
    _, late = halves(pair.motion, node)
    return bool(near_at(pair, pair.motion.whole[late, A], 0.0, limit, last, workspace))


@kernel
def _push_halves(motion: Motion, node: int, f0: float, f1: float, near: tuple[bool, bool, bool],
                 nodes: KernelArray, shares: KernelArray, was_near: KernelArray,
                 filled: int) -> int:  # fmt: skip
    """Put both halves of a node's time on the stack, the earlier one on top; how many it holds.

    ``near``: whether the pair is seen near at the node's start, in its middle, and at its end.
    """
    if can_split(motion, node):
        nodes[filled + 1], nodes[filled] = halves(motion, node)
        shares[filled : filled + 2, 0], shares[filled : filled + 2, 1] = 0.0, 1.0
    else:
        middle = (f0 + f1) / 2.0
        nodes[filled], nodes[filled + 1] = node, node
        shares[filled, 0], shares[filled, 1] = middle, f1
        shares[filled + 1, 0], shares[filled + 1, 1] = f0, middle
    was_near[filled, 0], was_near[filled, 1] = near[1], near[2]
    was_near[filled + 1, 0], was_near[filled + 1, 1] = near[0], near[1]
    return filled + 2
