"""What a measurement says."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from pathsim.errors import CannotCheck
from pathsim.geometry.containment import Solid
from pathsim.transforms import Array, apply, inverse


class Inner(StrEnum):
    """Which of a pair lies wholly within the other."""

    MOVING = "moving"
    STANDING = "standing"


def inner_of(moving: Solid, body: Solid, T: Array) -> Inner | None:
    """Tell which of two solids lies within the other; ``T (4, 4)`` takes the first to the body."""
    if body.holds(apply(T, moving.witnesses)):
        return Inner.MOVING
    return Inner.STANDING if moving.holds(apply(inverse(T), body.witnesses)) else None


class Within(NamedTuple):
    """A stretch of time, s, in which ``inner`` lies wholly within the other of its pair."""

    start: float
    end: float
    inner: Inner


@dataclass(frozen=True, eq=False)
class Clearance:
    """Smallest distance of one pair over a stretch of time lies in [lower, upper], m.

    ``lower`` is guaranteed for every moment, not only for the sampled ones. ``upper`` was
    really seen, at ``time`` (s), between ``on_moving`` and ``on_standing`` ``(3,)`` in the
    world. ``inner``: which of the two lies wholly within the other where the stretch starts,
    which is contact though no surfaces meet. Pairs farther apart than the cap are only said to
    be at least that far: then ``is_capped``, and the points are those of the nearest moment
    looked at.
    ``is_wide``: the search was given up before the interval was as narrow as asked for.
    """

    lower: float
    upper: float
    time: float
    on_moving: Array | None
    on_standing: Array | None
    inner: Inner | None = None
    is_capped: bool = False
    is_wide: bool = False

    def __post_init__(self) -> None:
        # Not-a-number compares as neither touching nor too near: it would read as clear.
        if math.isnan(self.lower) or math.isnan(self.upper):
            raise CannotCheck("a clearance came out as not a number")

    @property
    def is_inside(self) -> bool:
        """One of the two lies wholly within the other where the stretch starts."""
        return self.inner is not None

    @property
    def touches(self) -> bool:
        """Contact was seen, or cannot be told from contact."""
        return self.is_inside or self.lower <= 0.0


@dataclass(frozen=True)
class LeftOut:
    """A pair or a part that was not measured, and why. Nothing is left out in silence.

    ``is_agreed``: left out by a rule that is meant (wire at the weld), not for want of data.
    """

    what: str
    why: str
    is_agreed: bool
    moves: tuple[int, ...] = ()
