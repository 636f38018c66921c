"""Answers that were worked out, kept by everything that decides them."""

from __future__ import annotations

import threading
from collections.abc import Sequence

import numpy as np

from pathsim.clearance.fast.entry import RESULT
from pathsim.transforms import Array, Flags

#: The stretch, and the pair with what was asked for (``batch.py``).
Key = tuple[bytes, bytes]


class Answers:
    """Rows of results ``(RESULT,)`` by their keys; several threads may use them at once.

    ``most``: how many are kept. When there would be more, all are forgotten.
    """

    def __init__(self, most: int) -> None:
        self._most, self._lock = most, threading.Lock()
        self.clear()

    def __len__(self) -> int:
        return len(self._places)

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._empty()

    def _empty(self) -> None:
        self._places: dict[Key, int] = {}
        self._rows, self._filled = np.empty((0, RESULT)), 0

    def find(self, keys: Sequence[Key]) -> tuple[Array, Flags]:
        """Rows ``(n, RESULT)`` of keys, and which of them are known ``(n,)``; others are nan."""
        rows = np.full((len(keys), RESULT), np.nan)
        with self._lock:
            place = self._places.get
            places = np.array([place(key, -1) for key in keys], dtype=np.int64)
            known = places >= 0
            rows[known] = self._rows[places[known]]
        return rows, known

    def keep(self, keys: Sequence[Key], rows: Array) -> None:
        """Keep answers, one row for each key."""
        with self._lock:
            if self._filled + len(keys) > self._most:
                self._empty()
            start, end = self._filled, self._filled + len(keys)
            if end > len(self._rows):
                # Half as much again: rows are seldom copied.
                more = np.empty((end + end // 2, RESULT))
                more[:start] = self._rows[:start]
                self._rows = more
            self._rows[start:end], self._filled = rows, end
            self._places.update(zip(keys, range(start, end), strict=True))
