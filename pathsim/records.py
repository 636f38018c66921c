"""What copies and pickles of frozen records hold: their fields, nothing worked out of them.

A record keeps what was worked out of it (trees, boxes, poses) beside its fields. That may be large,
may hold what no other process can use, and comes again by itself; so it is no part of the record's
state. Arrays stay read-only: a pickle alone would bring them back writable.
"""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Iterator
from dataclasses import fields
from typing import Any

import numpy as np


@contextlib.contextmanager
def without_collecting() -> Iterator[None]:
    """Make many records without looking for garbage in between.

    None of them is garbage, and looking through a quarter of a million of them again and again
    takes as long as making them.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


class FieldsOnly:
    """Base of frozen dataclasses whose state is their fields."""

    def __getstate__(self) -> dict[str, Any]:
        """Return the fields by name."""
        return {one.name: getattr(self, one.name) for one in fields(self)}  # type: ignore[arg-type]

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Put the fields of a record back that has checked itself already, arrays read-only."""
        for value in state.values():
            if isinstance(value, np.ndarray):
                value.setflags(write=False)
        self.__dict__.update(state)
