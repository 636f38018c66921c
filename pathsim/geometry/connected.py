"""Connected components of a graph, whole arrays at once."""

from __future__ import annotations

import numpy as np

from pathsim.transforms import IntArray


def connected(rows: IntArray, columns: IntArray, n: int) -> IntArray:
    """Return for each of ``n`` nodes ``(n,)`` the lowest node that edges lead to.

    Edges go from ``rows (k,)`` to ``columns (k,)`` and count both ways. Hooking and pointer
    jumping (Shiloach and Vishkin, 1982): the root of each edge's higher end is hung under the lower
    one's, then every node under its root. Our own, because the library for it takes longer to
    start than a whole check.
    """
    root = np.arange(n)
    while True:
        a, b = root[rows], root[columns]
        apart = a != b
        if not apart.any():
            return root
        rows, columns, a, b = rows[apart], columns[apart], a[apart], b[apart]
        np.minimum.at(root, np.maximum(a, b), np.minimum(a, b))
        while True:
            above = root[root]
            if np.array_equal(above, root):
                break
            root = above
