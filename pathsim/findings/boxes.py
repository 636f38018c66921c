"""Boxes ``(2, 3)`` of bodies, lowest and highest corner, that stand on one another."""

from __future__ import annotations

import numpy as np

from pathsim.transforms import Array, BoolArray

#: Boxes that are so near stand against each other, m.
STANDS = 5e-4


def in_box(box: Array, points: Array, by: float) -> bool:
    """Tell whether all ``points (n, 3)`` lie in a box, or within ``by`` m of it."""
    return bool(((points > box[0] - by) & (points < box[1] + by)).all())


def are_borne(boxes: Array) -> BoolArray:
    """Tell of boxes ``(n, 2, 3)`` which touch or cross one that reaches farther down."""
    low, high = boxes[:, 0], boxes[:, 1]
    gaps = np.maximum(low[:, None] - high[None], low[None] - high[:, None]).max(axis=2)
    lower = low[None, :, 2] < low[:, None, 2] - STANDS
    return np.asarray(((gaps <= STANDS) & lower).any(axis=1))


def rests(above: Array, below: Array) -> bool:
    """Tell whether a box stands on another one: its lower side on the other's upper side."""
    over = np.minimum(above[1], below[1])[:2] - np.maximum(above[0], below[0])[:2]
    return bool(abs(above[0, 2] - below[1, 2]) <= STANDS and (over > 0).all())
