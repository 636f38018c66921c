"""A box round all that a piece passes through on a stretch: most bodies are far from all of it.

At a knot the piece lies in its own box, turned and placed; between two knots each of its points
keeps within A/8 of the line between its places at both (``motion.py``), and a box that holds both
places holds the line. So the boxes at all knots, put together and grown by the largest A/8, hold
the piece all along.
"""

from __future__ import annotations

import numpy as np

from pathsim.clearance.fast.entry import ROUNDING
from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import Numbers


@kernel
def put_reach(rows: Numbers, centres: Numbers, halves: Numbers, poses: Numbers, bends: Numbers,
              knots: int, boxes: Numbers) -> None:  # fmt: skip
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
