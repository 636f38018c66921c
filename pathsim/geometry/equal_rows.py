"""Equal rows of whole numbers, by one number a row: sorting whole rows takes longer."""

from __future__ import annotations

import numpy as np

from pathsim.transforms import IntArray

#: Odd numbers without a pattern; one a column.
_FACTORS = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], dtype=np.uint64)


def first_equal(rows: IntArray) -> tuple[IntArray, IntArray]:
    """Return the first row of each kind ``(k,)`` and, for each row, the first one equal to it.

    ``rows (n, 3)``. In no order that means anything.
    """
    with np.errstate(over="ignore"):
        keys = (rows.astype(np.uint64) * _FACTORS).sum(axis=1, dtype=np.uint64)
        keys ^= keys >> np.uint64(29)
    _, first, kind = np.unique(keys, return_index=True, return_inverse=True)
    like = first[kind]
    if (rows[like] == rows).all():
        return first, like
    # Two kinds had one number by chance.
    _, first, kind = np.unique(rows, axis=0, return_index=True, return_inverse=True)
    return first, first[kind.reshape(-1)]
