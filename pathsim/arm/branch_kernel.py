"""How far the solutions of a pose are from joint values, branch by branch, as a kernel."""

from __future__ import annotations

import numpy as np

from pathsim.arm.wrist_kernel import wrist_branches
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import KernelArray

_TURN = 2.0 * np.pi
#: Below this sine of joint 5 joints 4 and 6 trade turns freely: the wrist is judged by joint 5.
_ALIGNED = 1e-6


@kernel
def branch_misses(axes: KernelArray, vectors: KernelArray, flange_back: KernelArray, square: bool,
                  branches: KernelArray, T: KernelArray, joints: KernelArray, q: KernelArray,
                  exists: KernelArray, misses: KernelArray) -> None:  # fmt: skip
    """Fill ``misses (b,)``, rad: of the joint farthest from ``joints (6,)``, whole turns left out.

    Of each branch of ``branches (b,)`` at the pose ``T (1, 4, 4)``; infinity where it has no
    solution, and 0 for all where none has. ``q (1, b, 6)``, ``exists (1, b)`` are to work in; the
    rest is what ``wrist_branches`` asks for.
    """
    wrist_branches(axes, vectors, flange_back, square, branches, T, q, exists)
    is_any = False
    for k in range(len(branches)):
        aligned = abs(np.sin(q[0, k, 4])) < _ALIGNED
        worst = 0.0
        for j in range(6):
            if aligned and j in (3, 5):
                continue
            gap = q[0, k, j] - joints[j]
            worst = max(worst, abs(gap - _TURN * np.round(gap / _TURN)))
        misses[k] = worst if exists[0, k] else np.inf
        is_any = is_any or exists[0, k]
    if not is_any:
        misses[:] = 0.0
