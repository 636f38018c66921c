"""All that is worked out of one stretch of knots at once: poses, bounds between them, swept boxes.

One call a stretch: of a point that is dragged, there are dozens of stretches of a few knots, and
each call takes longer than what it works out.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.swept.link_pose import link_poses, put_swept_aabb
from pathsim.clearance.swept.motion_bound import bend
from pathsim.kernels.jit import kernel_allocating
from pathsim.kernels.vectors import KernelArray


@kernel_allocating
def lay_out(fixed: KernelArray, ends: KernelArray, slides: KernelArray, links: KernelArray,
            levers: KernelArray, carrying: KernelArray, centres: KernelArray,
            halves: KernelArray, q: KernelArray, poses: KernelArray, bends: KernelArray,
            ways: KernelArray, boxes: KernelArray) -> bool:  # fmt: skip
    """Fill poses of several links on one stretch of knots, bounds between them, and swept boxes.

    ``links (l,)``: which links of the chain, from 1; ``levers (l, k)``; ``q (n, k)``;
    ``carrying (p,)``, ``centres``, ``halves`` ``(p, 3)`` as in ``put_swept_aabb``. Filled:
    ``poses (l, n, 12)``, ``bends (l, n)`` of each knot's segment, the last one 0, ``ways (l, n)``
    bound on the way since the first knot, and ``boxes (p, 6)``. False where a pose or a bend is
    not a finite number: then none of it says anything.
    """
    room, knots = np.empty((2, 12)), len(q)
    for k in range(knots):
        link_poses(fixed, ends, slides, links, q, k, room, poses)
    # What is not finite less itself is not a number, and stays so in any sum.
    wrong = 0.0
    for i in range(len(links)):
        ways[i, 0], bends[i, knots - 1] = 0.0, 0.0
        for k in range(knots - 1):
            bends[i, k] = bend(q[k], q[k + 1], levers[i])
            wrong += bends[i, k] - bends[i, k]
            way = 0.0
            for j in range(q.shape[1]):
                way += abs(q[k + 1, j] - q[k, j]) * levers[i, j]
            ways[i, k + 1] = ways[i, k] + way
        for k in range(knots):
            for j in range(12):
                wrong += poses[i, k, j] - poses[i, k, j]
    put_swept_aabb(carrying, centres, halves, poses.reshape(-1, 12), bends.reshape(-1), knots,
                   boxes)  # fmt: skip
    return wrong == 0.0
