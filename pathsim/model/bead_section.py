"""The section of a bead: a round outline that holds what one pass leaves, and the area it is from.

Which form a bead takes is up to the joint. With A its area and everything from the line of the
wire's end, a disc of radius 1.30 sqrt(A), its centre 0.55 sqrt(A) above that line, holds the bead
in any corner or groove of 45 to 110 deg, flat or with a face convex by a tenth of its width, from
60 to 100 deg also where the torch leans 15 deg off the middle, and a bead on a plate up to four
times as wide as it is high. A weave of amplitude a spreads it: two such discs, a to each side, and
what is between them, of the same area in all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pathsim.transforms import Array, frozen

#: Radius of the outline, and height of its centre over the wire's end, of a bead of area 1.
_RADIUS, _CENTRE = 1.30, 0.55
#: Edges of the outline round one disc.
_SIDES = 24
#: A stated height is that of a layer in a groove of 60 deg, whose faces go apart by so much.
_OPENS = math.tan(math.radians(30.0))


@dataclass(frozen=True)
class BeadSection:
    """Outline of a bead, m: a disc of ``radius``, or two, ``aside`` to each side of the line.

    ``area``: m^2, of the bead itself. ``centre``: of the discs over the line of the wire's end.
    """

    area: float
    aside: float
    radius: float
    centre: float

    @classmethod
    def of(cls, area: float, amplitude: float = 0.0) -> BeadSection:
        """Return the outline of a bead of ``area`` m^2 laid with a weave of ``amplitude`` m."""
        a, whole = amplitude, math.pi * _RADIUS**2 * area
        # pi r^2 + 4 a r = whole
        radius = (math.sqrt(4 * a * a + math.pi * whole) - 2 * a) / math.pi
        return cls(area, a, radius, radius * _CENTRE / _RADIUS)

    @property
    def top(self) -> float:
        """How high it stands over the line of the wire's end, m."""
        return self.centre + self.radius

    @property
    def half_width(self) -> float:
        """How far it goes to each side, m."""
        return self.aside + self.radius

    @property
    def farthest(self) -> float:
        """How far any of its corners is from the line of the wire's end, at most, m."""
        return math.hypot(self.half_width, self.top) / math.cos(math.pi / _SIDES)

    def outline(self, grown: float = 0.0) -> Array:
        """Corners ``(n, 2)`` to the left and up, m, against the clock seen against the travel.

        Round the discs, never inside them; ``grown`` m larger all round.
        """
        outer = (self.radius + grown) / math.cos(math.pi / _SIDES)
        # a corner at each quarter plus half an edge: an edge lies flat on top and at each side
        angles = 2 * np.pi * (np.arange(_SIDES) + 0.5) / _SIDES
        across, up = outer * np.cos(angles), outer * np.sin(angles)
        return frozen(np.column_stack([across + np.sign(across) * self.aside, up + self.centre]))


def area_of_leg(leg: float) -> float:
    """Area of a flat fillet of equal legs between faces square to each other, m^2."""
    return leg * leg / 2


def area_of_height(height: float, amplitude: float) -> float:
    """Area of a layer of ``height`` m in a groove of 60 deg, twice the amplitude wide below."""
    return height * (2 * amplitude + _OPENS * height)
