"""Knots of a straight line of joint space by its law, as a kernel."""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel_allocating
from pathsim.kernels.vectors import KernelArray
from pathsim.motion.ideal_kernel import share_at


@kernel_allocating
def lay_line(pieces: KernelArray, breaks: KernelArray, bends: KernelArray, biggest: float,
             largest_step: float, start: KernelArray,
             end: KernelArray) -> tuple[KernelArray, KernelArray]:  # fmt: skip
    """Knots ``t (n,)``, ``q (n, axes)`` from ``start`` to ``end (axes,)``.

    ``pieces (k, 7)`` as in ``Ideal.pieces``; ``breaks (m,)``: times where the law's acceleration
    jumps, each a knot, and ``bends (m - 1,)``: into how many parts a second what lies between two
    of them has to be divided at least. The axis that goes farthest, by ``biggest``, turns no more
    than ``largest_step`` in each of its parts, taken together.
    """
    parts, total, k = np.empty(len(bends), np.int64), 1, 0
    before = 0.0
    for i in range(len(bends)):
        while k + 1 < len(pieces) and pieces[k + 1, 0] < breaks[i + 1]:
            k += 1
        share = share_at(pieces, k, breaks[i + 1])
        steps = np.ceil(biggest * (share - before) / largest_step)
        parts[i] = int(max(steps, np.ceil((breaks[i + 1] - breaks[i]) * bends[i]), 1.0))
        total += parts[i]
        before = share
    t, q = np.empty(total), np.empty((total, len(start)))
    t[0] = 0.0
    for j in range(len(start)):
        q[0, j] = start[j]
    knot, k = 1, 0
    for i in range(len(bends)):
        step = (breaks[i + 1] - breaks[i]) / parts[i]
        for part in range(1, parts[i] + 1):
            t[knot] = breaks[i + 1] if part == parts[i] else part * step + breaks[i]
            while k + 1 < len(pieces) and pieces[k + 1, 0] < t[knot]:
                k += 1
            share = share_at(pieces, k, t[knot])
            for j in range(len(start)):
                q[knot, j] = start[j] + share * (end[j] - start[j])
            knot += 1
    for j in range(len(start)):
        q[total - 1, j] = end[j]
    return t, q
