"""What is known of where one seam lies against the parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

#: Beyond the allowance: so far outside nothing can be welded, so deep inside no joint is, m.
NOWHERE, DEEP = 12e-3, 5e-3


class Untold(StrEnum):
    """Why it is not known where a seam lies."""

    NO_PART = "no body of the cell is a part"
    NO_LINE = "the seam's line could not be laid"


class Place(NamedTuple):
    """One place of a seam: ``distance`` m to the nearest ``part``, inside negative.

    At ``share`` of the seam's way, which it reaches at ``time`` s.
    """

    distance: float
    share: float
    time: float
    part: str


class ToWork(NamedTuple):
    """From the contact tip along the wire to the first surface of a part, m.

    At the seam's start and end, and the least and most that was looked at; None where no part
    is in line with the wire within 50 mm behind its end.
    """

    start: float | None
    end: float | None
    least: float | None
    most: float | None


@dataclass(frozen=True)
class SeamOnPart:
    """Where the wire's end is on one seam, its weave left out.

    ``move``: number from 1. ``untold``: why nothing is known; then the rest is None. ``least``
    and ``most``: the least and the largest signed distance that was seen, inside negative.
    ``lower``, ``upper``: what holds between looks too, m. ``start``, ``end``: at its ends.
    ``allowance`` m: how far off, in or out, the wire's end may be. ``beside``: where it is
    farthest from any joint, which is an edge, a corner or another part; ``distance`` is from
    there. ``is_surfacing``: no joint is meant. ``is_whole``: the seam was looked at to its end.
    ``parts``: how near it comes to the surface of each part, by name, m, as far as was looked.
    ``through``: where the wire goes through a part to get to its end, farther from that than any
    of it may touch; ``distance`` is from where it goes in to the wire's end.
    """

    move: int
    allowance: float
    stick_out: float
    untold: Untold | None = None
    least: Place | None = None
    most: Place | None = None
    start: Place | None = None
    end: Place | None = None
    lower: float | None = None
    upper: float | None = None
    to_work: ToWork | None = None
    beside: Place | None = None
    is_surfacing: bool = False
    is_whole: bool = True
    parts: Mapping[str, float] = field(default_factory=dict)
    through: Place | None = None

    def __repr__(self) -> str:
        worst = self.worst
        found = self.untold if worst is None else f"{worst.distance * 1e3:.3f} mm off at worst"
        return f"SeamOnPart(move {self.move}, {found})"

    @property
    def worst(self) -> Place | None:
        """The place that is farthest from the surface, on either side of it."""
        if self.least is None or self.most is None:
            return None
        return max(self.least, self.most, key=lambda place: abs(place.distance))

    @property
    def is_nowhere(self) -> bool:
        """Somewhere the wire's end is so far from every part that nothing can be welded."""
        return self.upper is not None and self.upper > self.allowance + NOWHERE

    @property
    def is_deep(self) -> bool:
        """Somewhere the wire's end is deep inside a part."""
        return self.lower is not None and self.lower < -(self.allowance + DEEP)

    @property
    def is_off(self) -> bool:
        """Somewhere the wire's end is farther from the surface than allowed."""
        if self.lower is None or self.upper is None:
            return False
        return self.upper > self.allowance or self.lower < -self.allowance

    @property
    def is_beside(self) -> bool:
        """Somewhere the wire's end is on a plain face, farther from any joint than allowed."""
        if self.beside is None or self.is_surfacing:
            return False
        return self.beside.distance > self.allowance
