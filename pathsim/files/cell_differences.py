"""What two cells do not have in common, field by field: nothing gets lost without being named."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

#: Where a value was read from is no part of what it says.
_OF_FILES = {"fingerprint", "files", "line"}
#: Rounding of angles and of a display's readings, and no more; rad, m, and parts of a rotation.
ROUNDED = 1e-12


def differences(one: Any, other: Any, name: str = "cell") -> Iterator[str]:
    """Give the names of all fields in which two records differ, arrays by more than rounding.

    A unit that nobody said differs from none: a file has to say one.
    """
    if dataclasses.is_dataclass(one) and type(one) is type(other):
        for field in dataclasses.fields(one):
            pair = getattr(one, field.name), getattr(other, field.name)
            if field.name in _OF_FILES or (field.name == "unit" and not pair[0]):
                continue
            yield from differences(*pair, f"{name}.{field.name}")
    elif isinstance(one, Mapping) and isinstance(other, Mapping) and list(one) == list(other):
        for key in one:
            yield from differences(one[key], other[key], f"{name}[{key!r}]")
    elif isinstance(one, tuple) and isinstance(other, tuple) and len(one) == len(other):
        for index, pair in enumerate(zip(one, other, strict=True)):
            yield from differences(*pair, f"{name}[{index}]")
    elif not _are_equal(one, other):
        yield name


def _are_equal(one: Any, other: Any) -> bool:
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        return _are_near(one, other)
    if isinstance(one, float) and isinstance(other, float | int):
        return one == other or abs(one - other) <= ROUNDED * max(1.0, abs(one))
    return bool(one == other)


def _are_near(one: Any, other: Any) -> bool:
    if not (isinstance(one, np.ndarray) and isinstance(other, np.ndarray)):
        return False
    if one.shape != other.shape or one.dtype != other.dtype:
        return False
    off = one != other
    if not off.any():
        return True
    if one.dtype.kind != "f":
        return False
    return bool(np.isfinite(one[off]).all() and (np.abs(one[off] - other[off]) <= ROUNDED).all())
