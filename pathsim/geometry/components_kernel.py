"""Connected components of a mesh in one pass: union-find over sorted vertices, in kernels.

The plain way (``containment.py``) sorts eight shifted grids, which took most of the time that a
mesh's inside test takes to make. Here vertices are put in order along one direction, and each is
compared with those that follow it within reach (sweep and prune); what is within half a
micrometre along each axis is one vertex, as the eight grids hold too. They also join some pairs
that are up to a whole micrometre apart; no law says which.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.kernels.jit import kernel, kernel_allocating
from pathsim.kernels.vectors import KernelArray
from pathsim.transforms import Array, IntArray

#: Along this vertices are put in order: no axis, no diagonal, so that few share one place on it.
_ALONG = np.array([0.61, 0.29, 0.74])
#: Vertices so near along each axis are one, m.
_SAME_PLACE = 0.5e-6
#: Two such vertices are no farther apart along ``_ALONG`` than this, with room for rounding, m.
_REACH = 1.01 * _SAME_PLACE * float(_ALONG.sum())


class Components(NamedTuple):
    """How a mesh falls apart.

    ``welded (n,)``: a number for each vertex, the same for those at one place; ``part_of (m,)``:
    the component of each triangle, -1 for one that is drawn again; ``low``, ``high
    (parts + 1, 3)``: corners of the box round each component and, last, round all of them.
    """

    welded: IntArray
    part_of: IntArray
    low: Array
    high: Array


def components(vertices: Array, faces: IntArray) -> Components:
    """Split a mesh, ``vertices (n, 3)`` and ``faces (m, 3)``, into its connected components."""
    place = vertices @ _ALONG
    return Components(*_components(vertices, faces, place, np.argsort(place)))


@kernel
def _root(above: KernelArray, i: int) -> int:
    """Return the lowest node that ``i`` hangs under; ways to it are halved."""
    while above[i] != i:
        above[i] = above[above[i]]
        i = above[i]
    return i


@kernel
def _join(above: KernelArray, i: int, j: int) -> None:
    a, b = _root(above, i), _root(above, j)
    if a < b:
        above[b] = a
    else:
        above[a] = b


@kernel
def _weld(
    vertices: KernelArray, place: KernelArray, order: KernelArray, above: KernelArray
) -> None:
    """Write for each vertex the lowest of those at its place; ``above (n,)``: each by itself."""
    n = len(order)
    for k in range(n):
        i = order[k]
        for other in range(k + 1, n):
            j = order[other]
            if place[j] - place[i] > _REACH:
                break
            if (
                abs(vertices[i, 0] - vertices[j, 0]) <= _SAME_PLACE
                and abs(vertices[i, 1] - vertices[j, 1]) <= _SAME_PLACE
                and abs(vertices[i, 2] - vertices[j, 2]) <= _SAME_PLACE
            ):
                _join(above, i, j)
    for i in range(n):
        above[i] = _root(above, i)


@kernel
def _drawn_once(welded: KernelArray, faces: KernelArray, part_of: KernelArray,
                table: KernelArray) -> None:  # fmt: skip
    """Write 0 for the first triangle of each three corners and -1 for those that repeat it.

    ``table (2^k,)``, at least twice as long as there are faces, all -1: hashing with open
    addressing (Knuth, The Art of Computer Programming 3, 6.4).
    """
    last = len(table) - 1
    for f in range(len(faces)):
        a, b, c = welded[faces[f, 0]], welded[faces[f, 1]], welded[faces[f, 2]]
        low, high = min(a, b, c), max(a, b, c)
        middle = a + b + c - low - high
        i = (low * 73856093 ^ middle * 19349663 ^ high * 83492791) & last
        part_of[f] = 0
        while table[i] >= 0:
            other = table[i]
            p, q, r = welded[faces[other, 0]], welded[faces[other, 1]], welded[faces[other, 2]]
            if min(p, q, r) == low and max(p, q, r) == high and p + q + r == low + middle + high:
                part_of[f] = -1
                break
            i = (i + 1) & last
        else:
            table[i] = f


@kernel
def _number(welded: KernelArray, faces: KernelArray, part_of: KernelArray, above: KernelArray,
            number: KernelArray) -> int:  # fmt: skip
    """Write the number of each face's component, by its lowest vertex; return how many there are.

    ``above (n,)``: each vertex by itself; ``number (n,)``: all -1. Both are lost.
    """
    for f in range(len(faces)):
        if part_of[f] == 0:
            _join(above, welded[faces[f, 0]], welded[faces[f, 1]])
            _join(above, welded[faces[f, 1]], welded[faces[f, 2]])
    for f in range(len(faces)):
        if part_of[f] == 0:
            number[_root(above, welded[faces[f, 0]])] = 0
    count = 0
    for i in range(len(number)):
        if number[i] == 0:
            number[i] = count
            count += 1
    for f in range(len(faces)):
        if part_of[f] == 0:
            part_of[f] = number[_root(above, welded[faces[f, 0]])]
    return count


@kernel
def _grow_boxes(vertices: KernelArray, faces: KernelArray, part_of: KernelArray,
                low: KernelArray, high: KernelArray) -> None:  # fmt: skip
    for f in range(len(faces)):
        if part_of[f] < 0:
            continue
        for corner in range(3):
            for k in range(3):
                value = vertices[faces[f, corner], k]
                for part in (part_of[f], len(low) - 1):
                    low[part, k] = min(low[part, k], value)
                    high[part, k] = max(high[part, k], value)


@kernel_allocating
def _components(vertices: KernelArray, faces: KernelArray, place: KernelArray, order: KernelArray
                ) -> tuple[KernelArray, KernelArray, KernelArray, KernelArray]:  # fmt: skip
    """One kernel for all of it: each that plain code calls is read from the disk by itself."""
    n, m = len(vertices), len(faces)
    welded = np.arange(n)
    _weld(vertices, place, order, welded)
    size = 2
    while size < 2 * m:
        size *= 2
    part_of = np.empty(m, np.int64)
    _drawn_once(welded, faces, part_of, np.full(size, -1))
    count = _number(welded, faces, part_of, np.arange(n), np.full(n, -1))
    low, high = np.full((count + 1, 3), np.inf), np.full((count + 1, 3), -np.inf)
    _grow_boxes(vertices, faces, part_of, low, high)
    return welded, part_of, low, high
