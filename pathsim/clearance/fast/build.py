"""Trees over the triangles of a mesh: boxes for what stands, turned boxes for what moves.

Node 0 is the root; a node's children come behind it. ``links (n, 4)`` holds for each node the
two children (-1 for a leaf), and the first triangle and the number of triangles below it in
the order of the tree (``split.py``).
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel_that_makes
from pathsim.kernels.vectors import Numbers

#: Rounding in coordinates of up to 1000 m stays below this, m.
ROUNDING = 1e-10


@kernel_that_makes
def boxes(triangles: Numbers, links: Numbers) -> Numbers:
    """Boxes ``(n, 6)`` of all nodes: lowest corner, then highest."""
    result = np.empty((len(links), 6))
    for node in range(len(links) - 1, -1, -1):
        for k in range(3):
            low, high = np.inf, -np.inf
            if links[node, 0] >= 0:
                for side in range(2):
                    child = links[node, side]
                    low, high = min(low, result[child, k]), max(high, result[child, 3 + k])
            else:
                for i in range(links[node, 2], links[node, 2] + links[node, 3]):
                    for j in range(3):
                        value = triangles[i, j, k]
                        low, high = min(low, value), max(high, value)
            result[node, k], result[node, 3 + k] = low, high
    return result


@kernel_that_makes
def _spread(triangles: Numbers, first: int, last: int) -> Numbers:
    """Covariance ``(3, 3)`` of the corners of triangles, not divided by their number."""
    mean, spread = np.zeros(3), np.zeros((3, 3))
    for i in range(first, last):
        for j in range(3):
            for k in range(3):
                mean[k] += triangles[i, j, k] / (3.0 * (last - first))
    for i in range(first, last):
        for j in range(3):
            for k in range(3):
                for n in range(3):
                    spread[k, n] += (triangles[i, j, k] - mean[k]) * (triangles[i, j, n] - mean[n])
    return spread


@kernel_that_makes
def _extent(triangles: Numbers, first: int, last: int, axes: Numbers, low: Numbers,
            high: Numbers) -> float:  # fmt: skip
    """Write the range of corners along the columns of ``axes (3, 3)``; return their half sum."""
    total = 0.0
    for n in range(3):
        low[n], high[n] = np.inf, -np.inf
        for i in range(first, last):
            for j in range(3):
                value = 0.0
                for k in range(3):
                    value += triangles[i, j, k] * axes[k, n]
                low[n], high[n] = min(low[n], value), max(high[n], value)
        total += (high[n] - low[n]) / 2.0
    return total


@kernel_that_makes
def bricks(triangles: Numbers, links: Numbers) -> tuple[Numbers, Numbers]:
    """Return turned boxes round all nodes' triangles, and spheres with the same centres.

    Returns ``sphere (n, 4)``, centre and radius, and ``brick (n, 9)``: three half sides as
    vectors. Their directions are those in which corners spread, or the frame's if that is
    smaller; whichever they are, all triangles below a node lie in its sphere and in its box.
    """
    sphere, brick = np.empty((len(links), 4)), np.empty((len(links), 9))
    low, high, other_low, other_high = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    for node in range(len(links)):
        first = links[node, 2]
        last = first + links[node, 3]
        _, axes = np.linalg.eigh(_spread(triangles, first, last))
        straight = np.eye(3)
        turned_size = _extent(triangles, first, last, axes, low, high)
        if _extent(triangles, first, last, straight, other_low, other_high) <= turned_size:
            axes = straight
            low[:], high[:] = other_low, other_high
        for k in range(3):
            sphere[node, k] = 0.0
            for n in range(3):
                sphere[node, k] += axes[k, n] * (low[n] + high[n]) / 2.0
                # Rounding in the directions must not leave a corner outside.
                half = (high[n] - low[n]) / 2.0 + ROUNDING
                brick[node, 3 * n + k] = axes[k, n] * half
        farthest = 0.0
        for i in range(first, last):
            for j in range(3):
                x = triangles[i, j, 0] - sphere[node, 0]
                y = triangles[i, j, 1] - sphere[node, 1]
                z = triangles[i, j, 2] - sphere[node, 2]
                farthest = max(farthest, x * x + y * y + z * z)
        sphere[node, 3] = np.sqrt(farthest) + ROUNDING
    return sphere, brick
