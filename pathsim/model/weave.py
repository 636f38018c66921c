"""What a weave asks for, and what it then really is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from pathsim.model import sound

#: Least and largest of what can be meant: amplitude m, frequency Hz, dwell s, tilt rad.
_AMPLITUDE, _FREQUENCY = (5e-5, 0.1), (0.05, 100.0)
_LONGEST_DWELL, _LARGEST_TILT = 3600.0, math.radians(60.0)


class Pattern(StrEnum):
    """Shape of the stroke from side to side."""

    ZIGZAG = "zigzag"
    SINE = "sine"
    CIRCLE = "circle"
    EIGHT = "figure-of-eight"
    CRESCENT = "crescent"


class DwellCounts(StrEnum):
    """Whether dwell is part of the cycle that the frequency names, or comes on top of it."""

    INSIDE = "inside"
    ADDED = "added"


class TravelInDwell(StrEnum):
    """Whether the travel along the seam goes on while the weave dwells."""

    GOES_ON = "goes on"
    STANDS = "stands still"


@dataclass(frozen=True)
class Weave:
    """A weave: ``amplitude`` (m) is centre to side, ``frequency`` (Hz) strokes there and back.

    Dwell left and right in s, seen along the travel with the torch upright; ``dwell_centre``
    at every pass of the centre, twice a cycle. ``tilt`` (rad) raises the left side: it turns
    the plane of the weave, square to the torch at 0, about the seam.
    """

    name: str
    pattern: Pattern
    amplitude: float
    frequency: float
    dwell_left: float = 0.0
    dwell_right: float = 0.0
    dwell_counts: DwellCounts = DwellCounts.ADDED
    dwell_centre: float = 0.0
    travel_in_dwell: TravelInDwell = TravelInDwell.GOES_ON
    tilt: float = 0.0

    def __post_init__(self) -> None:
        of = f"weave {sound.shown(self.name)}"
        sound.text("weave: name", self.name)
        low, high = _AMPLITUDE
        sound.number(f"{of}: amplitude", self.amplitude, "m", low=low, high=high)
        low, high = _FREQUENCY
        sound.number(f"{of}: frequency", self.frequency, "Hz", low=low, high=high)
        for name in ("dwell_left", "dwell_right", "dwell_centre"):
            sound.number(f"{of}: {name}", getattr(self, name), "s", low=0.0, high=_LONGEST_DWELL)
        most = _LARGEST_TILT + 1e-9
        sound.number(f"{of}: tilt", self.tilt, "rad", low=-most, high=most)
        sound.put(
            self,
            pattern=sound.word(f"{of}: pattern", self.pattern, Pattern),
            dwell_counts=sound.word(f"{of}: dwell_counts", self.dwell_counts, DwellCounts),
            travel_in_dwell=sound.word(
                f"{of}: travel_in_dwell", self.travel_in_dwell, TravelInDwell
            ),
        )
        if not self.stroke > 0:
            due = f"less dwell than the cycle of {1 / self.frequency:g} s has"
            sound.refuse(f"{of}: dwell", f"{self.dwell:g} s", due)

    @property
    def dwell(self) -> float:
        """All dwell of one cycle, s."""
        return self.dwell_left + self.dwell_right + 2 * self.dwell_centre

    @property
    def period(self) -> float:
        """Real time of one cycle, s."""
        if self.dwell_counts is DwellCounts.INSIDE:
            return 1 / self.frequency
        return 1 / self.frequency + self.dwell

    @property
    def stroke(self) -> float:
        """Time from one side to the other, s; not above zero when the dwell does not fit."""
        if self.dwell_counts is DwellCounts.INSIDE:
            return (1 / self.frequency - self.dwell) / 2
        return 1 / self.frequency / 2

    @property
    def travelling(self) -> float:
        """Time of one cycle in which the travel goes on, s."""
        if self.travel_in_dwell is TravelInDwell.STANDS:
            return self.period - self.dwell
        return self.period

    @property
    def real_frequency(self) -> float:
        """Cycles that really happen in a second, Hz."""
        return 1 / self.period

    def pitch(self, travel_speed: float) -> float:
        """Way along the seam in one cycle, m."""
        return travel_speed * self.travelling

    def frequency_for(self, travelling: float) -> float | None:
        """Frequency at which a cycle travels for so many seconds; None where none does."""
        stands = self.travel_in_dwell is TravelInDwell.STANDS
        inside = self.dwell_counts is DwellCounts.INSIDE
        # seconds of a whole cycle as the frequency counts it
        cycle = travelling
        if stands and inside:
            cycle += self.dwell
        elif not stands and not inside:
            cycle -= self.dwell
        if cycle <= 0 or (inside and cycle <= self.dwell):
            return None
        return 1 / cycle

    @property
    def lateral_speed(self) -> float:
        """Largest speed across the seam, m/s: of a sine pi A / stroke, of a zigzag 2 A / stroke."""
        factor = 2.0 if self.pattern is Pattern.ZIGZAG else math.pi
        return factor * self.amplitude / self.stroke

    @property
    def lateral_acceleration(self) -> float:
        """Largest acceleration across the seam, m/s^2; inf at a zigzag's corners."""
        if self.pattern is Pattern.ZIGZAG:
            return math.inf
        return self.amplitude * (math.pi / self.stroke) ** 2
