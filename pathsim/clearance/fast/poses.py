"""Poses of a chain's links at its knots and between them, as rows of ``[R | p]``."""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import Numbers, compose, copy_row


@kernel
def _move_joint(out: Numbers, k: int, slides: bool, value: float) -> None:
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
def link_poses(fixed: Numbers, ends: Numbers, slides: Numbers, links: Numbers, q: Numbers,
                knot: int, room: Numbers, poses: Numbers) -> None:  # fmt: skip
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
def link_pose(fixed: Numbers, ends: Numbers, slides: Numbers, own: int, q: Numbers, knot: int,
              f: float, out: Numbers, k: int, spare: int) -> None:  # fmt: skip
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
