"""Joints at moments between knots, and how far the tip has gone meanwhile, as kernels."""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray, Vector


@kernel
def first_behind(t: KernelArray, time: float) -> int:
    """Return the first of the knots ``t (n,)``, which rise, behind ``time``; n where none is."""
    first, behind = 0, len(t)
    while first < behind:
        middle = (first + behind) // 2
        if t[middle] <= time:
            first = middle + 1
        else:
            behind = middle
    return first


@kernel
def put_between(t: KernelArray, q: KernelArray, time: float, out: KernelArray, row: int) -> None:
    """Write joints at ``time`` to a row of ``out (n, axes)``, by the sums of ``joints_at``."""
    last = len(t) - 1
    if time >= t[last] or time < t[0]:
        k = last if time >= t[last] else 0
        for j in range(q.shape[1]):
            out[row, j] = q[k, j]
        return
    k = min(first_behind(t, time), last) - 1
    for j in range(q.shape[1]):
        out[row, j] = (q[k + 1, j] - q[k, j]) / (t[k + 1] - t[k]) * (time - t[k]) + q[k, j]


@kernel
def _tip_at(fixed: KernelArray, slides: KernelArray, columns: KernelArray, signs: KernelArray,
            tip: Vector, q: KernelArray) -> Vector:  # fmt: skip
    """Where a point of a chain's last axis is at ``q (1, axes)``: last joint first."""
    x, y, z = tip
    for back in range(len(fixed)):
        i = len(fixed) - 1 - back
        value = q[0, columns[i]] * signs[i]
        if slides[i]:
            z += value
        else:
            c, s = np.cos(value), np.sin(value)
            x, y = c * x - s * y, s * x + c * y
        T = fixed[i]
        x, y, z = (
            T[0, 0] * x + T[0, 1] * y + T[0, 2] * z + T[0, 3],
            T[1, 0] * x + T[1, 1] * y + T[1, 2] * z + T[1, 3],
            T[2, 0] * x + T[2, 1] * y + T[2, 2] * z + T[2, 3],
        )
    return x, y, z


@kernel_allocating
def first_far(fixed: KernelArray, slides: KernelArray, columns: KernelArray, signs: KernelArray,
              tip: KernelArray, t: KernelArray, q: KernelArray, origin: float, start: float,
              step: float, count: int, radius: float) -> int:  # fmt: skip
    """Return the first look at which the tip is farther than ``radius`` m from where it is then.

    That is at the moment ``origin``; looks are at ``start`` and ``count - 1`` times a ``step`` more
    (s). ``count`` where it is at none. ``fixed (k, 4, 4)``, ``slides``, ``columns``, ``signs``
    ``(k,)``: a ``Linkage``; ``tip (3,)`` of its last axis; knots ``t (n,)``, ``q (n, axes)``.
    """
    room, point = np.empty((1, q.shape[1])), (tip[0], tip[1], tip[2])
    put_between(t, q, origin, room, 0)
    first = _tip_at(fixed, slides, columns, signs, point, room)
    for look in range(count):
        put_between(t, q, start + step * look, room, 0)
        x, y, z = _tip_at(fixed, slides, columns, signs, point, room)
        x, y, z = x - first[0], y - first[1], z - first[2]
        if np.sqrt(x * x + y * y + z * z) > radius:
            return look
    return count
