"""How a mesh's triangles are divided into a BVH: by the surface area heuristic (SAH).

A box is looked into about as often as its surface is large, so that of several cuts the best
has the least sum of ``surface of the half's box * triangles in the half`` (Goldsmith and Salmon,
1987; cuts between bins: Wald, 2007). Large triangles part from small ones early that way, and
a box of small ones stays small. Whatever the cuts are, the tree holds every triangle once.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray

LEFT, RIGHT, FIRST, COUNT = 0, 1, 2, 3
#: Triangles in a leaf.
LEAF = 4
#: Cuts tried along each axis, less one.
_BINS = 32
#: Below this depth triangles are halved by number, so that no tree is deeper than this and 60.
_FREELY_DEEP = 60
DEEPEST = 128
#: Going down a tree needs one place for each level and one more.
STACK = DEEPEST + 2


@kernel
def _clear(low: KernelArray, high: KernelArray, i: int) -> None:
    """Make box ``i`` empty."""
    for k in range(3):
        low[i, k], high[i, k] = np.inf, -np.inf


@kernel
def _grow(low: KernelArray, high: KernelArray, i: int, others_low: KernelArray,
          others_high: KernelArray, j: int) -> None:  # fmt: skip
    """Grow box ``i`` by box ``j`` of others."""
    for k in range(3):
        low[i, k] = min(low[i, k], others_low[j, k])
        high[i, k] = max(high[i, k], others_high[j, k])


@kernel
def _surface(low: KernelArray, high: KernelArray, i: int) -> float:
    """Half the surface of box ``i``."""
    x, y, z = high[i, 0] - low[i, 0], high[i, 1] - low[i, 1], high[i, 2] - low[i, 2]
    return float(x * y + y * z + z * x)


@kernel
def _centre(low: KernelArray, high: KernelArray, i: int, axis: int) -> float:
    return float((low[i, axis] + high[i, axis]) / 2.0)


@kernel
def _bin_of(start: float, width: float, value: float) -> int:
    return int(min(int((value - start) / width * _BINS), _BINS - 1))


@kernel
def _range(low: KernelArray, high: KernelArray, order: KernelArray, first: int, last: int,
           axis: int) -> tuple[float, float]:  # fmt: skip
    """Least centre of ``order[first:last]`` along an axis, and how far they reach from it."""
    start, end = np.inf, -np.inf
    for i in range(first, last):
        value = _centre(low, high, order[i], axis)
        start, end = min(start, value), max(end, value)
    return start, end - start


@kernel
def _best_cut(low: KernelArray, high: KernelArray, order: KernelArray, first: int, last: int,
              bin_low: KernelArray, bin_high: KernelArray, counts: KernelArray,
              costs: KernelArray) -> tuple[int, int]:  # fmt: skip
    """Axis of the best cut, and the bin that it lies behind; -1 where nothing can be cut.

    ``bin_low``, ``bin_high (bins + 1, 3)``, ``counts``, ``costs (bins,)``: room to work in.
    """
    least, best_axis, best_bin = np.inf, -1, 0
    for axis in range(3):
        start, width = _range(low, high, order, first, last, axis)
        if not width > 1e-12:
            continue
        for j in range(_BINS):
            counts[j] = 0
        for i in range(first, last):
            j = _bin_of(start, width, _centre(low, high, order[i], axis))
            if counts[j] == 0:
                _clear(bin_low, bin_high, j)
            counts[j] += 1
            _grow(bin_low, bin_high, j, low, high, order[i])
        # Most bins of a small node are empty: past them box and cost stay as they are.
        _clear(bin_low, bin_high, _BINS)
        behind, cost = 0, np.inf
        for j in range(_BINS - 1, 0, -1):
            if counts[j] > 0:
                behind += counts[j]
                _grow(bin_low, bin_high, _BINS, bin_low, bin_high, j)
                cost = behind * _surface(bin_low, bin_high, _BINS)
            costs[j - 1] = cost
        _clear(bin_low, bin_high, _BINS)
        before, cost = 0, np.inf
        for j in range(_BINS - 1):
            if counts[j] > 0:
                before += counts[j]
                _grow(bin_low, bin_high, _BINS, bin_low, bin_high, j)
                cost = before * _surface(bin_low, bin_high, _BINS)
            if cost + costs[j] < least:
                least, best_axis, best_bin = cost + costs[j], axis, j
    return best_axis, best_bin


@kernel
def _part(low: KernelArray, high: KernelArray, order: KernelArray, first: int, last: int, axis: int,
          cut: int) -> int:  # fmt: skip
    """Bring the triangles before a cut to the front of ``order[first:last]``; where it ends."""
    start, width = _range(low, high, order, first, last, axis)
    i, j = first, last - 1
    while i <= j:
        if _bin_of(start, width, _centre(low, high, order[i], axis)) <= cut:
            i += 1
        else:
            order[i], order[j] = order[j], order[i]
            j -= 1
    return i


@kernel_allocating
def _boxes_of(triangles: KernelArray) -> tuple[KernelArray, KernelArray]:
    """Lowest and highest corner ``(m, 3)`` of the box round each triangle."""
    m = len(triangles)
    low, high = np.empty((m, 3)), np.empty((m, 3))
    for i in range(m):
        for k in range(3):
            x, y, z = triangles[i, 0, k], triangles[i, 1, k], triangles[i, 2, k]
            low[i, k], high[i, k] = min(x, y, z), max(x, y, z)
    return low, high


@kernel_allocating
def split(triangles: KernelArray) -> tuple[KernelArray, KernelArray]:
    """Return the order ``(m,)`` of triangles ``(m, 3, 3)`` in the tree and its ``links (n, 4)``."""
    m = len(triangles)
    low, high = _boxes_of(triangles)
    order = np.arange(m)
    links = np.empty((2 * m, 4), np.int64)
    bin_low, bin_high = np.empty((_BINS + 1, 3)), np.empty((_BINS + 1, 3))
    counts, costs = np.empty(_BINS, np.int64), np.empty(_BINS)
    stack = np.empty((DEEPEST, 4), np.int64)  # first, last, parent's slot, depth
    stack[0, 0], stack[0, 1], stack[0, 2], stack[0, 3] = 0, m, -1, 0
    filled, nodes = 1, 0
    while filled > 0:
        filled -= 1
        first, last = stack[filled, 0], stack[filled, 1]
        slot, depth = stack[filled, 2], stack[filled, 3]
        node = nodes
        nodes += 1
        if slot >= 0:
            links[slot // 2, slot % 2] = node
        links[node, LEFT], links[node, RIGHT] = -1, -1
        links[node, FIRST], links[node, COUNT] = first, last - first
        if last - first <= LEAF:
            continue
        axis, cut = -1, 0
        if depth < _FREELY_DEEP:
            axis, cut = _best_cut(low, high, order, first, last, bin_low, bin_high, counts, costs)
        middle = (first + last) // 2
        if axis >= 0:
            middle = _part(low, high, order, first, last, axis, cut)
        # The half behind is put down first: the one before it is taken up, and numbered, first.
        for half in range(2):
            i = filled + half
            stack[i, 0] = middle if half == 0 else first
            stack[i, 1] = last if half == 0 else middle
            stack[i, 2], stack[i, 3] = 2 * node + 1 - half, depth + 1
        filled += 2
    return order, links[:nodes].copy()
