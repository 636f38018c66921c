"""Joint speeds between knots, and times of knots at which no joint is too fast, as a kernel."""

from __future__ import annotations

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import KernelArray


@kernel
def fill_speeds(t: KernelArray, q: KernelArray, speed: KernelArray, ratio: KernelArray,
                slowed: KernelArray) -> None:  # fmt: skip
    """Fill speeds ``ratio (n - 1, axes)`` and times ``slowed (n,)`` of knots ``t``, ``q``.

    Speeds are shares of what the axes can, ``speed (axes,)``. Where one is above 1 the stretch
    between two knots is made longer by that much; times begin at 0.
    """
    slowed[0] = 0.0
    for i in range(len(t) - 1):
        span, most = t[i + 1] - t[i], 1.0
        for j in range(q.shape[1]):
            ratio[i, j] = abs(q[i + 1, j] - q[i, j]) / span / speed[j]
            most = max(most, ratio[i, j])
        slowed[i + 1] = slowed[i] + span * most
