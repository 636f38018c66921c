"""Poses of a chain's links at knots and between them, and the AABB that a piece sweeps.

Poses are rows of ``[R | p]``. At a knot the piece lies in its own box, turned and placed; between
two knots each of its points keeps within A/8 of the line between its places at both
(``motion_bound.py``), and a box that holds both places holds the line. So the boxes at all knots,
put together and grown by the largest A/8, hold the piece all along: its swept AABB.
"""

from __future__ import annotations

import numpy as np

from pathsim.geometry.mesh import ROUNDING
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import KernelArray, compose, copy_row


@kernel
def _move_joint(out: KernelArray, k: int, slides: bool, value: float) -> None:
    """Move the frame in row ``k`` along its z, or turn it about it."""
    if slides:
        for j in range(0, 12, 4):
            out[k, j + 3] += out[k, j + 2] * value
    else:
        c, s = np.cos(value), np.sin(value)
        for j in range(0, 12, 4):
            x, y = out[k, j], out[k, j + 1]
            out[k, j] = c * x + s * y
            out[k, j + 1] = c * y - s * x


@kernel
def link_poses(fixed: KernelArray, ends: KernelArray, slides: KernelArray, links: KernelArray,
               q: KernelArray, knot: int, room: KernelArray,
               poses: KernelArray) -> None:  # fmt: skip
    """Write the poses of ``links (l,)``, which rise, at a knot to ``poses (l, n, 12)``."""
    copy_row(fixed, 0, room, 0)
    place = 0
    for i in range(links[-1]):
        if i > 0:
            compose(room, 0, fixed, i, room, 1)
            copy_row(room, 1, room, 0)
        _move_joint(room, 0, slides[i], q[knot, i])
        if links[place] == i + 1:
            compose(room, 0, ends, i, room, 1)
            for j in range(12):
                poses[place, knot, j] = room[1, j]
            place += 1


@kernel
def link_pose(fixed: KernelArray, ends: KernelArray, slides: KernelArray, own: int,
              q: KernelArray, knot: int, f: float, out: KernelArray, k: int,
              spare: int) -> None:  # fmt: skip
    """Write the pose of link ``own`` (from 1) to row ``k`` of ``out (n, 12)``.

    At share ``f`` of the segment behind ``knot`` of joints ``q (n, axes)``. ``fixed``, ``ends``
    ``(k, 12)``, ``slides (k,)``: the chain, as in ``Linkage``. Row ``spare`` of ``out`` is
    worked in.
    """
    copy_row(fixed, 0, out, k)
    for i in range(own):
        if i > 0:
            compose(out, k, fixed, i, out, spare)
            copy_row(out, spare, out, k)
        value = q[knot, i]
        if f > 0.0:
            value += f * (q[knot + 1, i] - value)
        _move_joint(out, k, slides[i], value)
    compose(out, k, ends, own - 1, out, spare)
    copy_row(out, spare, out, k)


@kernel
def put_swept_aabb(rows: KernelArray, centres: KernelArray, halves: KernelArray,
                   poses: KernelArray, bends: KernelArray, knots: int,
                   boxes: KernelArray) -> None:  # fmt: skip
    """Fill ``boxes (p, 6)``, low and high corner in the chain's frame, of pieces on one stretch.

    ``rows (p,)``: which of the stretch's links carries each; ``centres``, ``halves`` ``(p, 3)``:
    its box in the link's frame; ``poses``, ``bends``: as in ``Motion``.
    """
    for p in range(len(rows)):
        first, bulge = rows[p] * knots, 0.0
        for k in range(first, first + knots - 1):
            bulge = max(bulge, bends[k])
        margin = bulge / 8.0 + ROUNDING
        for axis in range(3):
            low, high, r = np.inf, -np.inf, 4 * axis
            for k in range(first, first + knots):
                x, y, z = poses[k, r], poses[k, r + 1], poses[k, r + 2]
                c = x * centres[p, 0] + y * centres[p, 1] + z * centres[p, 2] + poses[k, r + 3]
                half = abs(x) * halves[p, 0] + abs(y) * halves[p, 1] + abs(z) * halves[p, 2]
                low, high = min(low, c - half), max(high, c + half)
            boxes[p, axis], boxes[p, 3 + axis] = low - margin, high + margin
