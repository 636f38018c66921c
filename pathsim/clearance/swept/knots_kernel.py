"""Knots of one stretch of a move cut out, and those of a straight line of joint space thinned.

One call a stretch: a program has dozens, and each line of plain code about them takes longer than
all that the kernel does.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray
from pathsim.motion.track_kernel import first_behind, put_between

#: What knots are: of which two have one time, or all of whose times rise; and those of a line.
NOT_RISING, RISING, LINE = 0, 1, 2


@kernel_allocating
def _cut_out(track_t: KernelArray, track_q: KernelArray, start: float, end: float, is_whole: bool,
             per_second: float) -> tuple[KernelArray, KernelArray]:  # fmt: skip
    """Return times ``(n,)`` from ``start`` on and axes ``(n, axes)``, both ends included."""
    knots = len(track_t)
    t = np.empty(knots)
    for k in range(knots):
        t[k] = track_t[k] - track_t[0]
        if per_second > 0.0:
            t[k] = np.rint(t[k] * per_second) / per_second
    if is_whole:
        return t, track_q.copy()
    first, behind = first_behind(t, start), first_behind(t, end)
    while behind > 0 and t[behind - 1] >= end:  # what is at the very end is there already
        behind -= 1
    inside = max(behind - first, 0)
    times, q = np.empty(inside + 2), np.empty((inside + 2, track_q.shape[1]))
    put_between(t, track_q, start, q, 0)
    put_between(t, track_q, end, q, inside + 1)
    times[0], times[inside + 1] = 0.0, end - start
    for k in range(inside):
        times[k + 1] = t[first + k] - start
        for j in range(q.shape[1]):
            q[k + 1, j] = track_q[first + k, j]
    return times, q


@kernel
def _farthest(q: KernelArray) -> float:
    """How far the axis goes that goes farthest from the first of knots to the last."""
    farthest, last = 0.0, len(q) - 1
    for j in range(q.shape[1]):
        farthest = max(farthest, abs(q[last, j] - q[0, j]))
    return farthest


@kernel
def _put_shares(q: KernelArray, off: float, share: KernelArray) -> bool:
    """Tell whether knots ``q (n, axes)`` are on a straight line, each farther along it.

    To ``off``. How far along they are, from 0 to 1, is then in ``share (n,)``.
    """
    last, size = len(q) - 1, 0.0
    for j in range(q.shape[1]):
        size += (q[last, j] - q[0, j]) * (q[last, j] - q[0, j])
    if not size > 0.0:
        return False
    for k in range(last + 1):
        along = 0.0
        for j in range(q.shape[1]):
            along += (q[k, j] - q[0, j]) * (q[last, j] - q[0, j])
        along /= size
        for j in range(q.shape[1]):
            if not abs(q[k, j] - q[0, j] - along * (q[last, j] - q[0, j])) < off:
                return False
        share[k] = 0.0 if k == 0 else 1.0 if k == last else along
        if k > 0 and not share[k] > share[k - 1]:
            return False
    return True


@kernel_allocating
def knots_of_stretch(
    track_t: KernelArray, track_q: KernelArray, start: float, end: float, is_whole: bool,
    per_second: float, step: float, off: float,
) -> tuple[int, KernelArray, KernelArray, KernelArray, KernelArray]:  # fmt: skip
    """Return what knots of a stretch are (LINE, RISING, NOT_RISING), their times and axes.

    Of a move with knots ``track_t (m,)``, ``track_q (m, axes)``, from ``start`` to ``end``, s from
    its start; ``is_whole``: all of it is meant. Times of knots are told in ticks, so many
    ``per_second``; as they are where it is 0. Of a line that is gone forward along, to ``off``, the
    knots returned are even ones, none of which turns any axis by more than ``step``, where the move
    has more than twice as many; and behind them how far along the move's own are, and their times.
    """
    t, q = _cut_out(track_t, track_q, start, end, is_whole, per_second)
    none = np.empty(0)
    for k in range(len(t) - 1):
        if not t[k + 1] > t[k]:
            return NOT_RISING, t, q, none, none
    if len(t) < 2:
        return NOT_RISING, t, q, none, none
    parts = int(min(np.ceil(_farthest(q) / step), float(len(t)))) + 1
    share = np.empty(len(t))
    if len(t) <= 2 * parts or not _put_shares(q, off, share):
        return RISING, t, q, none, none
    last = len(t) - 1
    times, fewer = np.empty(parts + 1), np.empty((parts + 1, q.shape[1]))
    for k in range(parts + 1):
        even = k / parts
        times[k] = even * t[last]
        for j in range(q.shape[1]):
            way = q[last, j] - q[0, j]
            fewer[k, j] = q[last, j] if k == parts else q[0, j] + even * way
    return LINE, times, fewer, share, t
