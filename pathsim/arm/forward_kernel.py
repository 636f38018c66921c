"""Forward kinematics as a kernel: one joint vector after the other, or as plain Python all at once.

In plain Python every array has one axis more, the last one, over which numpy works: so no name
here may be changed in place while another one stands for the same numbers.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray


@kernel
def _follow(frames: KernelArray, before: int, fixed: KernelArray, i: int, value: float,
            slides: bool, after: int) -> None:  # fmt: skip
    """Write frame ``after`` of ``frames (m, 4, 4)``: axis ``i`` moved by ``value`` behind another.

    ``before``: the frame that it hangs on; the base itself for the first axis.
    """
    for row in range(3):
        for column in range(4):
            value_here = fixed[i, row, column]
            if i > 0:
                value_here = frames[before, row, 3] if column == 3 else 0.0
                for k in range(3):
                    value_here = value_here + frames[before, row, k] * fixed[i, k, column]
            frames[after, row, column] = value_here
    if slides:
        for row in range(3):
            frames[after, row, 3] += frames[after, row, 2] * value
    else:
        c, s = np.cos(value), np.sin(value)
        for row in range(3):
            x, y = frames[after, row, 0], frames[after, row, 1]
            frames[after, row, 0], frames[after, row, 1] = c * x + s * y, c * y - s * x
    frames[after, 3, 3] = 1.0


@kernel
def fill_frames(
    fixed: KernelArray, qs: KernelArray, prismatic: KernelArray, frames: KernelArray
) -> None:
    """Fill ``frames (n, k, 4, 4)``, which comes in as zeros; ``fixed (k, 4, 4)``, ``qs (n, k)``.

    In plain Python also ``frames (1, k, 4, 4, n)`` by ``qs (1, k, n)``.
    """
    for n in range(len(qs)):
        for i in range(len(fixed)):
            _follow(frames[n], i - 1, fixed, i, qs[n, i], prismatic[i], i)


@kernel_allocating
def fill_last_frames(
    fixed: KernelArray, qs: KernelArray, prismatic: KernelArray, frames: KernelArray
) -> None:
    """Fill ``frames (n, 4, 4)``, which comes in as zeros, with the frames of the last axis."""
    room = np.zeros((2, 4, 4))
    last = len(fixed) - 1
    for n in range(len(qs)):
        for i in range(len(fixed)):
            _follow(room, (i + 1) % 2, fixed, i, qs[n, i], prismatic[i], i % 2)
        for row in range(4):
            for column in range(4):
                frames[n, row, column] = room[last % 2, row, column]
