"""The nearest pair at a moment, and the words of its number."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.transforms import Array
from pathsim.units import guaranteed_millimetres, short_millimetres


@dataclass(frozen=True, eq=False)
class Gap:
    """The nearest pair at one moment, between two points ``(3,)``."""

    on_moving: Array
    on_standing: Array
    guaranteed: float
    piece: str
    body: str
    margin: float = 0.0

    @property
    def is_below_margin(self) -> bool:
        """Less is left than is asked for."""
        return self.guaranteed < self.margin - 1e-9

    @property
    def touches(self) -> bool:
        """Nothing is left of the gap."""
        return self.guaranteed <= 0

    @property
    def number(self) -> str:
        """What stands in the box: the guaranteed number, rounded down."""
        return "touches" if self.touches else guaranteed_millimetres(self.guaranteed)

    @property
    def with_margin(self) -> str:
        """The number with what is asked for."""
        if self.touches:
            return "touches"
        return f"{self.number}, margin {short_millimetres(self.margin)}"

    @property
    def pair(self) -> str:
        """What comes near what, the verb with it where they touch."""
        joint = "touches" if self.touches else "to"
        return f"{self.piece} {joint} {self.body}"
