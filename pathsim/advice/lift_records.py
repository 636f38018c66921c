"""What a search for lifts finds, and the heights that it tries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.advice.change import Change

#: Heights tried, m: the lowest that clears on this grid is minimal to its step.
STEP, HIGHEST = 0.005, 0.40


@dataclass(frozen=True, eq=False)
class RetractCandidate:
    """A change that clears the moves it touches and harms nothing, and how it was found.

    ``heights``: of its one or two points, m. ``off_habit``: as of a proposal, s.
    """

    kind: str
    words: str
    heights: tuple[float, ...]
    change: Change
    evidence: tuple[str, ...]
    off_habit: float = 0.0


@dataclass(frozen=True, eq=False)
class NoLift:
    """A direction in which no height clears, and why, in words."""

    words: str


def heights_tried() -> list[float]:
    """Return the heights that are tried, m, lowest first."""
    return [float(height) for height in np.arange(1, round(HIGHEST / STEP) + 1) * STEP]
