"""What a pass leaves standing, as its line of the program says it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pathsim.model import sound

#: Leg or height of one bead that can be meant, m.
SMALLEST, LARGEST = 5e-4, 0.03


@dataclass(frozen=True)
class Bead:
    """The bead of the pass ``name``, sized by the wire that is fed into it.

    ``leg`` (m) of a flat fillet that it makes alone, or ``height`` (m) of its layer: its size where
    no wire feed is known; where both are, the larger area counts. ``lean_left``, ``lean_ahead``
    rad: how the torch leans off the taught one, seen along its own travel: the joint is taken to
    lie as it was taught.
    Raises CellError when it cannot be meant.
    """

    name: str
    leg: float | None = None
    height: float | None = None
    lean_left: float = 0.0
    lean_ahead: float = 0.0

    def __post_init__(self) -> None:
        of = f"pass {sound.shown(self.name)}"
        for name in ("leg", "height"):
            value = getattr(self, name)
            if value is not None:
                sound.number(f"{of}: {name}", value, "m", low=SMALLEST, high=LARGEST)
        if self.leg is not None and self.height is not None:
            sound.refuse(f"{of}: height", self.height, "a leg or a height, not both")

    def lean_across(self, ahead: float) -> float:
        """Return how far the torch leans to the left of the taught one, seen along the travel, rad.

        ``ahead``: of the unit vector back along the wire, its part along the travel. The torch
        leans left first, then ahead about the taught left: that turns what it leans to the left.
        """
        cl, sl = math.cos(self.lean_left), math.sin(self.lean_left)
        cm, sm = math.cos(self.lean_ahead), math.sin(self.lean_ahead)
        # ahead = cos(s) cl sm + sin(s) cm, with s how far the taught torch leans ahead itself
        share = min(max(ahead / math.hypot(cl * sm, cm), -1.0), 1.0)
        s = math.asin(share) - math.atan2(cl * sm, cm)
        return math.atan2(math.cos(s) * sl, math.cos(s) * cl * cm - math.sin(s) * sm)
