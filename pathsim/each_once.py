"""Sorted values, each once.

numpy's own function for it loads all of its masked arrays when it is first called, and takes
several times as long for the few values that a move or a body is asked about.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", bound=np.generic)


def each_once(values: NDArray[Number]) -> NDArray[Number]:
    """Return the values of an array of any shape, sorted, each once ``(k,)``; none is nan."""
    rising: NDArray[Any] = np.sort(values, axis=None)
    is_new = np.ones(len(rising), dtype=bool)
    is_new[1:] = rising[1:] != rising[:-1]
    return rising[is_new]
