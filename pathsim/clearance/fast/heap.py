"""A heap of entries of the search, and who comes first in it.

Columns of an entry's numbers: key, lower bound, and part of a segment [f0, f1]; of its whole
numbers: sphere, node of time, the body's triangle that was nearest, and the body's box outside of
which all is far enough. The key is a guess at how near the entry comes, and only orders: what
prunes is the lower bound, kept apart. Mixed up, they would break the proof.
"""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel, kernel_that_makes
from pathsim.kernels.vectors import Numbers

KEY, LOWER_BOUND, F0, F1 = 0, 1, 2, 3
SPHERE, NODE, HINT, TOP = 0, 1, 2, 3
#: Entries that may touch come first, the smallest of them before all: contact shows soonest.
_TOUCHING = -1e6


@kernel_that_makes
def new_heap() -> tuple[Numbers, Numbers]:
    """Return room for entries: numbers and whole numbers."""
    return np.empty((4096, 4)), np.empty((4096, 4), np.int64)


@kernel_that_makes
def larger(numbers: Numbers, whole: Numbers, filled: int) -> tuple[Numbers, Numbers]:
    """Return the heap of ``filled`` entries with twice the room."""
    more, more_whole = np.empty((2 * len(numbers), 4)), np.empty((2 * len(whole), 4), np.int64)
    more[:filled], more_whole[:filled] = numbers[:filled], whole[:filled]
    return more, more_whole


@kernel
def _move(numbers: Numbers, whole: Numbers, i: int, j: int) -> None:
    """Copy entry i to place j; number by number, as copying rows costs ten times as much."""
    for k in range(4):
        numbers[j, k] = numbers[i, k]
    for k in range(4):
        whole[j, k] = whole[i, k]


@kernel
def key_of(guess: float, size: float) -> float:
    """Order of an entry: by how near it seems; where it may touch, by its size."""
    return guess if guess > 0.0 else _TOUCHING + size


@kernel
def push(numbers: Numbers, whole: Numbers, filled: int, key: float, lower: float, sphere: int,
         node: int, hint: int, top: int, f0: float, f1: float) -> None:  # fmt: skip
    """Put an entry into the heap of ``filled`` entries."""
    i = filled
    while i > 0:
        parent = (i - 1) // 2
        if numbers[parent, KEY] <= key:
            break
        _move(numbers, whole, parent, i)
        i = parent
    numbers[i, KEY], numbers[i, LOWER_BOUND], numbers[i, F0], numbers[i, F1] = key, lower, f0, f1
    whole[i, SPHERE], whole[i, NODE], whole[i, HINT], whole[i, TOP] = sphere, node, hint, top


@kernel
def pop(numbers: Numbers, whole: Numbers, filled: int) -> None:
    """Take the first entry out of a heap of ``filled`` entries."""
    last = filled - 1
    key = numbers[last, KEY]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= last:
            break
        if child + 1 < last and numbers[child + 1, KEY] < numbers[child, KEY]:
            child += 1
        if numbers[child, KEY] >= key:
            break
        _move(numbers, whole, child, i)
        i = child
    _move(numbers, whole, last, i)
