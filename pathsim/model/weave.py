"""What a weave asks for."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Pattern(StrEnum):
    """Shape of the stroke from side to side."""

    ZIGZAG = "zigzag"
    SINE = "sine"


class DwellCounts(StrEnum):
    """Whether dwell is part of the cycle that the frequency names, or comes on top of it."""

    INSIDE = "inside"
    ADDED = "added"


@dataclass(frozen=True)
class Weave:
    """A weave: ``amplitude`` (m) is centre to side, ``frequency`` (Hz) strokes there and back.

    Dwell left and right in s, seen along the travel with the torch upright. The travel
    along the seam goes on during a dwell.
    """

    name: str
    pattern: Pattern
    amplitude: float
    frequency: float
    dwell_left: float = 0.0
    dwell_right: float = 0.0
    dwell_counts: DwellCounts = DwellCounts.ADDED

    @property
    def period(self) -> float:
        """Real time of one cycle, s."""
        if self.dwell_counts is DwellCounts.INSIDE:
            return 1 / self.frequency
        return 1 / self.frequency + self.dwell_left + self.dwell_right

    @property
    def stroke(self) -> float:
        """Time from one side to the other, s; not above zero when the dwell does not fit."""
        if self.dwell_counts is DwellCounts.INSIDE:
            return (1 / self.frequency - self.dwell_left - self.dwell_right) / 2
        return 1 / self.frequency / 2
