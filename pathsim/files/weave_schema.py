"""What ``cell.yaml`` may say of a weave."""

from __future__ import annotations

import math

from pydantic import Field, model_validator

from pathsim.files.quantities import Amplitude, Angle, Entry, Frequency, Time
from pathsim.model import DwellCounts, Pattern
from pathsim.model.weave import TravelInDwell

#: A stroke in less than this is no weave, s.
_SHORTEST_STROKE = 0.01


class WeaveEntry(Entry):
    """A weave; ``dwell`` stands for both sides, or each side is given."""

    pattern: Pattern
    amplitude: Amplitude
    frequency: Frequency
    dwell: Time | None = None
    dwell_left: Time | None = Field(default=None, alias="dwell left")
    dwell_right: Time | None = Field(default=None, alias="dwell right")
    dwell_centre: Time = Field(default=0.0, alias="dwell centre")
    dwell_counts: DwellCounts | None = Field(default=None, alias="dwell counts")
    travel_in_dwell: TravelInDwell | None = Field(default=None, alias="travel in dwell")
    tilt: Angle = 0.0

    @property
    def sides(self) -> tuple[float, float]:
        """Dwell left and right, s."""
        both = self.dwell or 0.0
        left = both if self.dwell_left is None else self.dwell_left
        return left, both if self.dwell_right is None else self.dwell_right

    @model_validator(mode="after")
    def _dwell_is_said_once_and_fits(self) -> WeaveEntry:
        left, right = self.sides
        if self.dwell is not None and not (self.dwell_left is None and self.dwell_right is None):
            raise ValueError("came 'dwell' and a side; expected one or the other")
        dwell = left + right + 2 * self.dwell_centre
        if not abs(self.tilt) <= math.radians(60):
            raise ValueError(f"came a tilt of {math.degrees(self.tilt):g} deg; expected up to 60")
        if dwell > 0 and self.dwell_counts is None:
            raise ValueError(
                "came a dwell without 'dwell counts'; expected 'dwell counts: inside' (part of "
                "the cycle) or 'dwell counts: added' (on top of it)"
            )
        if dwell == 0 and (self.dwell_counts is not None or self.travel_in_dwell is not None):
            raise ValueError("came words about a dwell without one; expected a dwell, or no words")
        stroke = (1 / self.frequency - dwell) / 2
        if self.dwell_counts is DwellCounts.INSIDE and 0 < stroke < _SHORTEST_STROKE:
            raise ValueError(
                f"came so much dwell inside the cycle that {stroke * 1e3:.2f} ms are left for a "
                f"stroke; expected at least {_SHORTEST_STROKE * 1e3:g} ms"
            )
        if self.dwell_counts is DwellCounts.INSIDE and dwell >= 1 / self.frequency:
            added = 1 / (1 / self.frequency + dwell)
            centre = f" and twice {self.dwell_centre:g} s" if self.dwell_centre else ""
            raise ValueError(
                f"came {left:g} s and {right:g} s{centre} of dwell inside a cycle of "
                f"{1 / self.frequency:g} s; expected less dwell than cycle, or 'dwell counts: "
                f"added', which gives {added:.1f} cycles a second"
            )
        return self
