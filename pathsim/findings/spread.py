"""A number along a seam: its least, its most, and what it is in the middle."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.transforms import Array


@dataclass(frozen=True)
class Spread:
    """The least and the most of a number along a seam, and what it is in the middle, SI."""

    least: float
    most: float
    middle: float

    @classmethod
    def of(cls, values: Array) -> Spread:
        """Return that of ``values (n,)``, in the order of the way."""
        return cls(float(values.min()), float(values.max()), float(values[len(values) // 2]))
