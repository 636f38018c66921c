"""The section of a bead: a round outline that holds what one pass leaves, and the area it is from.

Which form a bead takes is up to the joint. With A its area and everything from the line of the
wire's end, a disc of radius 1.30 sqrt(A), its centre 0.55 sqrt(A) above that line, holds the bead
in any corner or groove of 40 to 110 deg, flat or with a face convex by a tenth of its width, from
60 to 100 deg also where the torch leans 15 deg off the middle, and a bead on a plate up to four
times as wide as it is high. A weave of amplitude a spreads it where there is room: two such discs,
a to each side, and what is between them, of the same area in all. In a narrow V there is none, and
what is woven stands as high as if it were not: nobody knows how far it spreads, up to a. The hull
of the two discs and of the one without a weave holds all of it: an outline for a spread x reaches
x |cos t| + r(x) (1 + 0.55 / 1.30 sin t) in the direction t, which is convex in x as r(x) is, and so
nowhere more than at both ends, x = 0 and x = a. A torch that leans off the taught one weaves
aslant: then the discs spread as the torch leans are within the hull too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pathsim.transforms import Array, frozen

#: Radius of a disc, and height of its centre over the wire's end, of a bead of area 1; their share.
_RADIUS, _CENTRE = 1.30, 0.55
_OVER = _CENTRE / _RADIUS
#: Edges of the outline round one disc.
_SIDES = 24
#: A stated height is that of a layer in a groove of 60 deg, whose faces go apart by so much.
_OPENS = math.tan(math.radians(30.0))
#: A lean of less is none, rad.
_STRAIGHT = 1e-6


@dataclass(frozen=True)
class BeadSection:
    """Outline of a bead, m: the hull of a disc over the line, and of two ``aside`` to each side.

    ``area``: m^2, of the bead itself. ``middle``: radius of the disc over the line, as without a
    weave; ``radius``: of the two beside it. ``leans``: to the left, rad, of the torch that weaves
    it off the taught one. ``is_front``: what of it is on the torch's side of the wire's end alone,
    where all the metal is that a corner, groove or plate does not hold.
    """

    area: float
    aside: float
    middle: float
    radius: float
    leans: tuple[float, ...] = ()
    is_front: bool = False

    @classmethod
    def of(cls, area: float, amplitude: float = 0.0, leans: tuple[float, ...] = ()) -> BeadSection:
        """Return the outline of a bead of ``area`` m^2 laid with a weave of ``amplitude`` m.

        ``leans``: least and most that the torch leans to the left of the taught one on it, rad.
        """
        a, middle = amplitude, _RADIUS * math.sqrt(area)
        # pi r^2 + 4 a r = pi middle^2
        radius = (math.sqrt(4 * a * a + (math.pi * middle) ** 2) - 2 * a) / math.pi
        aslant = tuple(lean for lean in dict.fromkeys(leans) if abs(lean) > _STRAIGHT)
        return cls(area, a, middle, radius, aslant if a else ())

    @property
    def _discs(self) -> Array:
        """All discs ``(n, 3)``: centre left and up, radius, m."""
        a, r, c = self.aside, self.radius, self.radius * _OVER
        discs = [(0.0, self.centre, self.middle)]
        if a:
            discs += [(a, c, r), (-a, c, r)]
        for lean in self.leans:
            cos, sin = math.cos(lean), math.sin(lean)
            for x in (a, -a):  # over the line of the wire's end as taught, and as the torch leans
                discs += [(x * cos, c - x * sin, r), (x * cos + c * sin, c * cos - x * sin, r)]
        return frozen(np.array(discs))

    @property
    def centre(self) -> float:
        """How high the disc over the line has its centre, m."""
        return self.middle * _OVER

    @property
    def top(self) -> float:
        """How high it stands over the line of the wire's end, m."""
        return float((self._discs[:, 1] + self._discs[:, 2]).max())

    @property
    def half_width(self) -> float:
        """How far it goes to each side, m."""
        return float((np.abs(self._discs[:, 0]) + self._discs[:, 2]).max())

    @property
    def farthest(self) -> float:
        """How far any of its corners is from the line of the wire's end, at most, m."""
        lowest = float((self._discs[:, 2] - self._discs[:, 1]).max())
        return math.hypot(self.half_width, max(self.top, lowest)) / math.cos(math.pi / _SIDES)

    def outline(self, grown: float = 0.0) -> Array:
        """Corners ``(n, 2)`` to the left and up, m, against the clock seen against the travel.

        Round the discs, never inside them; ``grown`` m larger all round.
        """
        discs = self._discs
        outer = (discs[:, 2] + grown) / math.cos(math.pi / _SIDES)
        # a corner at each quarter plus half an edge: an edge lies flat on top and at each side
        angles = 2 * np.pi * (np.arange(_SIDES) + 0.5) / _SIDES
        round_one = np.column_stack([np.cos(angles), np.sin(angles)])
        corners = discs[:, None, :2] + outer[:, None, None] * round_one
        outline = corners[0] if len(discs) == 1 else _hull(corners.reshape(-1, 2))
        return frozen(_above(outline, -grown) if self.is_front else outline)

    @property
    def front(self) -> BeadSection:
        """What of it is on the torch's side of the wire's end."""
        return replace(self, is_front=True)


def _hull(points: Array) -> Array:
    """Return the corners of the convex hull of points ``(n, 2)``, against the clock.

    Andrew's monotone chain: from left to right below, and back above.
    """
    ordered = points[np.lexsort((points[:, 1], points[:, 0]))].tolist()
    halves: list[list[list[float]]] = []
    for row in (ordered, ordered[::-1]):
        half: list[list[float]] = []
        for x, y in row:
            while len(half) > 1 and _turn(half[-2], half[-1], (x, y)) <= 0:
                half.pop()
            half.append([x, y])
        halves.append(half[:-1])  # the last is the first of the other half
    return np.array(halves[0] + halves[1])


def _above(outline: Array, low: float) -> Array:
    """Return what of a convex outline ``(n, 2)`` is over a height ``low``."""
    kept: list[Array] = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if a[1] >= low:
            kept.append(a)
        if (a[1] >= low) != (b[1] >= low):
            kept.append(a + (low - a[1]) / (b[1] - a[1]) * (b - a))
    return np.array(kept)


def _turn(a: Sequence[float], b: Sequence[float], c: Sequence[float]) -> float:
    """Twice the area of a triangle, positive where it goes against the clock."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def area_of_leg(leg: float) -> float:
    """Area of a flat fillet of equal legs between faces square to each other, m^2."""
    return leg * leg / 2


def area_of_height(height: float, amplitude: float) -> float:
    """Area of a layer of ``height`` m in a groove of 60 deg, twice the amplitude wide below."""
    return height * (2 * amplitude + _OPENS * height)
