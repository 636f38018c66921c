"""What a seam is welded with, and what follows from it: notes, no verdicts.

Welding procedure and codes decide; every result says its formula and its inputs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pathsim.model import sound
from pathsim.units import MOST


@dataclass(frozen=True)
class Process:
    """Wire feed (m/s), voltage (V) and current (A), where known.

    ``efficiency``: thermal efficiency k for the heat input by EN 1011-1 (0.8 for gas metal arc
    there). ``deposition``: share of the wire that ends up in the weld. ``power``: of the arc, W,
    where a meter has it from many values a second; it counts instead of voltage and current, whose
    means say too little of a pulsed arc. ``crater_feed``: of the wire in a crater time, m/s.
    """

    wire_feed: float | None = None
    voltage: float | None = None
    current: float | None = None
    efficiency: float = 0.8
    deposition: float = 1.0
    power: float | None = None
    crater_feed: float | None = None

    def __post_init__(self) -> None:
        fastest = MOST["speed"]
        of = (("wire_feed", "m/s", fastest), ("voltage", "V", 100.0), ("current", "A", 1500.0),
              ("power", "W", 100e3), ("crater_feed", "m/s", fastest))  # fmt: skip
        for name, unit, most in of:
            value = getattr(self, name)
            if value is not None:
                sound.number(f"process: {name}", value, unit, above=0.0, high=most)
        for name in ("efficiency", "deposition"):
            sound.number(f"process: {name}", getattr(self, name), above=0.0, high=1.0)

    def wire_used(self, arc_time: float, crater: float = 0.0, ramp: float = 0.0) -> float | None:
        """Length of wire for so many seconds of arc with the feed on, m.

        ``crater`` s of them are at its own feed, ``ramp`` s at an even way from one to the other.
        """
        if self.wire_feed is None:
            return None
        in_crater = self.wire_feed if self.crater_feed is None else self.crater_feed
        in_ramp = (self.wire_feed + in_crater) / 2
        return self.wire_feed * (arc_time - crater - ramp) + in_crater * crater + in_ramp * ramp

    def deposit_area(self, wire_diameter: float, travel_speed: float) -> float | None:
        """Area of the bead, m^2: (pi/4) d^2 x feed x deposition / travel speed."""
        if self.wire_feed is None:
            return None
        wire = math.pi / 4 * wire_diameter**2
        return wire * self.wire_feed * self.deposition / travel_speed

    def heat_per_length(self, travel_speed: float) -> float | None:
        """Arc energy, the heat input without efficiency, J/m.

        U I / v (ASME IX QW-409.1(a): 60 V I / S); by a measured power P / v (there (c), and
        ISO/TR 18491; both from memory).
        """
        power = self.power
        if power is None and self.voltage is not None and self.current is not None:
            power = self.voltage * self.current
        return None if power is None else power / travel_speed

    def heat_with_efficiency(self, travel_speed: float) -> float | None:
        """Heat input by EN 1011-1, J/m: k times the arc energy."""
        heat = self.heat_per_length(travel_speed)
        return None if heat is None else self.efficiency * heat


def fillet_leg(area: float) -> float:
    """Leg of a flat fillet with equal legs and this area: sqrt(2 A)."""
    return math.sqrt(2 * area)
