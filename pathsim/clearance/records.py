"""What a measurement says."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pathsim.errors import CannotCheck
from pathsim.geometry.containment import Solid
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, apply, inverse

#: All that decides what is kept from one check to the next.
Content = tuple[object, ...]


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


@dataclass(frozen=True, eq=False, init=False)
class Clearance(FieldsOnly):
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

    def __init__(
        self,
        lower: float,
        upper: float,
        time: float,
        on_moving: Array | None,
        on_standing: Array | None,
        inner: Inner | None = None,
        is_capped: bool = False,
        is_wide: bool = False,
    ) -> None:
        # Not-a-number compares as neither touching nor too near: it would read as clear.
        if math.isnan(lower) or math.isnan(upper):
            raise CannotCheck("a clearance came out as not a number")
        # At once: a check makes hundreds, and field by field takes twice as long.
        vars(self).update(
            lower=lower, upper=upper, time=time, on_moving=on_moving, on_standing=on_standing,
            inner=inner, is_capped=is_capped, is_wide=is_wide,
        )  # fmt: skip

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


@dataclass(frozen=True, eq=False)
class ClearanceProfile(FieldsOnly):
    """Clearance of the nearest pair over a program's time.

    ``t (n,)`` s, rising; the end of one move and the start of the next are two entries at one
    time. ``guaranteed (n - 1,)`` m holds for every moment of [t[k], t[k + 1]] and every pair
    that is measured there, capped; 0 where something touches; nan where two entries are one
    time (between moves) or a stretch was not checked. ``seen (n,)`` m is the exact
    distance of the nearest pair at t[k] (inf when beyond the cap), between ``piece[k]`` and
    ``body[k]`` (names, empty when beyond the cap; where two stretches meet, pairs of both
    count), at ``on_moving`` and ``on_standing`` ``(n, 3)`` in the world (nan when beyond the
    cap). ``move (n,)`` is the number of the move.
    ``margin (n - 1,)`` m is the margin of the nearest stretch; a cable's own where a cable
    decides ``guaranteed``.
    """

    t: Array
    guaranteed: Array
    seen: Array
    piece: tuple[str, ...]
    body: tuple[str, ...]
    on_moving: Array
    on_standing: Array
    move: NDArray[np.int64]
    margin: Array
    cap: float

    def __repr__(self) -> str:
        return f"ClearanceProfile({len(self.t)} moments, {len(np.unique(self.move))} moves)"
