"""Forward kinematics as a kernel: vector by vector, the same products as in ``forward.py``."""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import Numbers


@kernel
def fill_frames(fixed: Numbers, qs: Numbers, prismatic: Numbers, frames: Numbers) -> None:
    """Fill ``frames (n, k, 4, 4)``, which comes in as zeros; ``fixed (k, 4, 4)``, ``qs (n, k)``."""
    for n in range(len(qs)):
        for i in range(len(fixed)):
            for row in range(3):
                for column in range(4):
                    value = fixed[i, row, column]
                    if i > 0:
                        value = frames[n, i - 1, row, 3] if column == 3 else 0.0
                        for k in range(3):
                            value += frames[n, i - 1, row, k] * fixed[i, k, column]
                    frames[n, i, row, column] = value
            if prismatic[i]:
                for row in range(3):
                    frames[n, i, row, 3] += frames[n, i, row, 2] * qs[n, i]
            else:
                c, s = np.cos(qs[n, i]), np.sin(qs[n, i])
                for row in range(3):
                    x, y = frames[n, i, row, 0], frames[n, i, row, 1]
                    frames[n, i, row, 0] = c * x + s * y
                    frames[n, i, row, 1] = c * y - s * x
            frames[n, i, 3, 3] = 1.0
