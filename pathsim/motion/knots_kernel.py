"""Laying knots as a kernel, where the inverse is a closed form: the rules of ``knots.py``.

It only knows how to lay a move to its end. Whatever stands in the way (a pose out of reach, a
leap, a weave without a side) it leaves to ``knots.py``, which tells how far the move goes.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel, kernel_allocating, kernel_inline
from pathsim.kernels.vectors import KernelArray
from pathsim.motion.ideal_kernel import Ideal, Room, solve_at

#: More segments than this are never open at once: each is at most a half of the one before.
_OPEN = 1024
_CHECKS = (0.25, 0.5, 0.75)


@kernel
def _copy(source: KernelArray, i: int, out: KernelArray, j: int) -> None:
    for k in range(source.shape[1]):
        out[j, k] = source[i, k]


@kernel
def _mix(
    a: KernelArray, i: int, b: KernelArray, j: int, s: float, out: KernelArray, k: int
) -> None:
    """Write the row at share ``s`` between two rows to ``out[k]``."""
    for c in range(a.shape[1]):
        out[k, c] = a[i, c] + s * (b[j, c] - a[i, c])


@kernel
def _largest_step(a: KernelArray, i: int, b: KernelArray, j: int) -> float:
    largest = 0.0
    for c in range(a.shape[1]):
        largest = max(largest, abs(b[j, c] - a[i, c]))
    return largest


@kernel_inline
def _miss(ideal: Ideal, ta: float, tb: float, first: KernelArray, last: KernelArray, i: int,
          levers: KernelArray, rows: KernelArray, room: Room) -> float:  # fmt: skip
    """How far the arm is from its ideal place inside a segment; infinity where it has none."""
    worst = 0.0
    for share in _CHECKS:
        _mix(first, i, last, i, share, rows, 0)
        if not solve_at(ideal, ta + share * (tb - ta), rows, 0, rows, 1, room):
            return np.inf
        miss = 0.0
        for c in range(len(levers)):
            miss += abs(rows[1, c] - rows[0, c]) * levers[c]
        worst = max(worst, miss)
    return worst


@kernel_allocating
def lay_knots(ideal: Ideal, times: KernelArray, q_start: KernelArray, levers: KernelArray,
              error: float, largest_step: float, shortest: float,
              most_parts: int) -> tuple[KernelArray, KernelArray, bool]:  # fmt: skip
    """Knots ``t (n,)``, ``q (n, axes)`` of a motion, and whether they go to its end.

    ``times (m,)``: coarse times and corners, ascending; ``q_start (axes,)``, ``levers (axes,)``;
    the rest as the constants of ``knots.py``.
    """
    count = len(q_start)
    room = Room(np.zeros((5, 12)), np.zeros((1, 4, 4)), np.zeros((1, 1, 6)),
                np.zeros((1, 1), np.bool_))  # fmt: skip
    rows, ends = np.zeros((2, count)), np.zeros((most_parts + 1, count))
    ta, tb = np.empty(_OPEN), np.empty(_OPEN)
    qa, qb = np.empty((_OPEN, count)), np.empty((_OPEN, count))
    t, q = np.empty(4 * len(times) + 64), np.empty((4 * len(times) + 64, count))
    coarse = np.empty((len(times), count))
    coarse[0], q[0], t[0] = q_start, q_start, times[0]
    for k in range(1, len(times)):
        if not solve_at(ideal, times[k], coarse, k - 1, coarse, k, room):
            return t[:1], q[:1], False
    knots = 1
    for k in range(len(times) - 1):
        ta[0], tb[0] = times[k], times[k + 1]
        _copy(coarse, k, qa, 0)
        _copy(coarse, k + 1, qb, 0)
        filled = 1
        while filled > 0:
            top = filled - 1
            start, span = ta[top], tb[top] - ta[top]
            miss = _miss(ideal, start, tb[top], qa, qb, top, levers, rows, room)
            if miss <= error and _largest_step(qa, top, qb, top) <= largest_step:
                if knots == len(t):
                    more_t, more_q = np.empty(2 * knots), np.empty((2 * knots, count))
                    more_t[:knots], more_q[:knots] = t, q
                    t, q = more_t, more_q
                t[knots] = tb[top]
                _copy(qb, top, q, knots)
                knots += 1
                filled -= 1
                continue
            if not miss < np.inf or span < shortest or filled + most_parts > _OPEN:
                return t[:1], q[:1], False
            wanted = np.ceil(1.1 * np.sqrt(miss / error))
            parts = int(min(max(wanted, 2.0), float(most_parts)))
            _copy(qa, top, ends, 0)
            _copy(qb, top, ends, parts)
            for p in range(1, parts):
                _mix(qa, top, qb, top, p / parts, rows, 0)
                if not solve_at(ideal, start + p / parts * span, rows, 0, ends, p, room):
                    return t[:1], q[:1], False
            end = tb[top]
            for p in range(parts):  # the first part comes to lie on top
                place = top + parts - 1 - p
                ta[place] = start + p / parts * span
                tb[place] = end if p == parts - 1 else start + (p + 1) / parts * span
                _copy(ends, p, qa, place)
                _copy(ends, p + 1, qb, place)
            filled += parts - 1
    return t[:knots].copy(), q[:knots].copy(), True
