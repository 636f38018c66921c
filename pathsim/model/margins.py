"""How much clearance a cell asks for."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.model import sound

#: A margin of more than this is in a wrong unit, m.
LARGEST_MARGIN = 1.0


@dataclass(frozen=True)
class Margins:
    """Clearance asked for, m: on air moves, on straight moves to and from a seam, on seams.

    None has a default: nobody else can choose them. Raises CellError below 0.
    """

    air: float
    approach: float
    seam: float

    def __post_init__(self) -> None:
        for name in ("air", "approach", "seam"):
            sound.number(f"margins: {name}", getattr(self, name), "m", low=0.0, high=LARGEST_MARGIN)
