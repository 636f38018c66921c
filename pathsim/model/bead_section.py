"""The section of a bead: a round outline that holds what one pass leaves, and the area it is from.

Which form a bead takes is up to the joint. With A its area and everything from the line of the
wire's end, a disc of radius 1.30 sqrt(A), its centre 0.55 sqrt(A) above that line, holds the bead
in any corner or groove of 45 to 110 deg, flat or with a face convex by a tenth of its width, from
60 to 100 deg also where the torch leans 15 deg off the middle, and a bead on a plate up to four
times as wide as it is high. A weave of amplitude a spreads it: two such discs, a to each side, and
what is between them, of the same area in all. A torch that leans off the taught one weaves aslant:
then the outline is the hull of these discs and of those spread as the torch leans.
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
#: A lean of less is none, rad.
_STRAIGHT = 1e-6


@dataclass(frozen=True)
class BeadSection:
    """Outline of a bead, m: a disc of ``radius``, or two, ``aside`` to each side of the line.

    ``area``: m^2, of the bead itself. ``centre``: of the discs over the line of the wire's end.
    ``leans``: to the left, rad, of the torch that weaves it off the taught one.
    """

    area: float
    aside: float
    radius: float
    centre: float
    leans: tuple[float, ...] = ()

    @classmethod
    def of(cls, area: float, amplitude: float = 0.0, leans: tuple[float, ...] = ()) -> BeadSection:
        """Return the outline of a bead of ``area`` m^2 laid with a weave of ``amplitude`` m.

        ``leans``: least and most that the torch leans to the left of the taught one on it, rad.
        """
        a, whole = amplitude, math.pi * _RADIUS**2 * area
        # pi r^2 + 4 a r = whole
        radius = (math.sqrt(4 * a * a + math.pi * whole) - 2 * a) / math.pi
        aslant = tuple(lean for lean in dict.fromkeys(leans) if abs(lean) > _STRAIGHT)
        return cls(area, a, radius, radius * _CENTRE / _RADIUS, aslant if a else ())

    @property
    def _discs(self) -> Array:
        """Centres of all discs ``(n, 2)``, left and up, m."""
        a, c = self.aside, self.centre
        centres = [(a, c), (-a, c)]
        for lean in self.leans:
            cos, sin = math.cos(lean), math.sin(lean)
            for x in (a, -a):  # over the line of the wire's end as taught, and as the torch leans
                centres += [(x * cos, c - x * sin), (x * cos + c * sin, c * cos - x * sin)]
        return frozen(np.array(centres))

    @property
    def top(self) -> float:
        """How high it stands over the line of the wire's end, m."""
        return float(self._discs[:, 1].max()) + self.radius

    @property
    def half_width(self) -> float:
        """How far it goes to each side, m."""
        return float(np.abs(self._discs[:, 0]).max()) + self.radius

    @property
    def farthest(self) -> float:
        """How far any of its corners is from the line of the wire's end, at most, m."""
        below = self.radius - float(self._discs[:, 1].min())
        return math.hypot(self.half_width, max(self.top, below)) / math.cos(math.pi / _SIDES)

    def outline(self, grown: float = 0.0) -> Array:
        """Corners ``(n, 2)`` to the left and up, m, against the clock seen against the travel.

        Round the discs, never inside them; ``grown`` m larger all round.
        """
        outer = (self.radius + grown) / math.cos(math.pi / _SIDES)
        # a corner at each quarter plus half an edge: an edge lies flat on top and at each side
        angles = 2 * np.pi * (np.arange(_SIDES) + 0.5) / _SIDES
        across, up = outer * np.cos(angles), outer * np.sin(angles)
        if self.leans:
            from scipy.spatial import ConvexHull  # takes long, and hardly any bead asks for it

            corners = (self._discs[:, None] + np.column_stack([across, up])).reshape(-1, 2)
            return frozen(corners[ConvexHull(corners).vertices])  # against the clock
        return frozen(np.column_stack([across + np.sign(across) * self.aside, up + self.centre]))


def area_of_leg(leg: float) -> float:
    """Area of a flat fillet of equal legs between faces square to each other, m^2."""
    return leg * leg / 2


def area_of_height(height: float, amplitude: float) -> float:
    """Area of a layer of ``height`` m in a groove of 60 deg, twice the amplitude wide below."""
    return height * (2 * amplitude + _OPENS * height)
