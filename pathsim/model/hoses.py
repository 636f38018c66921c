"""How far the hose package stands to be wound up about a joint, as its maker or the shop says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pathsim.model import sound

if TYPE_CHECKING:
    from pathsim.model.cell import Cell

#: Least and most that a package can be meant to stand, rad.
LEAST, MOST = float(np.radians(10.0)), float(np.radians(3600.0))


@dataclass(frozen=True)
class Hose:
    """What stands to be wound up about the joint ``joint`` (column of the arm's joints, from 0).

    ``turns`` rad: from least to most over a program. ``unwound`` rad: value of the joint at which
    nothing is wound; then no more than half of ``turns`` either way from there. Raises CellError.
    """

    joint: int
    turns: float
    unwound: float | None = None

    def __post_init__(self) -> None:
        sound.whole("hose: joint", self.joint, 0, 99)
        of = f"hose on joint {self.joint}"
        sound.number(f"{of}: turns", self.turns, "rad", low=LEAST, high=MOST + 1e-9)
        if self.unwound is not None:
            sound.number(f"{of}: unwound", self.unwound, "rad", low=-MOST, high=MOST)


def require_hoses(cell: Cell) -> tuple[Hose, ...]:
    """Return the hoses of a cell, each on a turning joint that no other has; raises CellError."""
    hoses = sound.records("cell: hoses", cell.hoses, Hose, "a Hose")
    sound.once("cell: joint of a hose", [f"{hose.joint}" for hose in hoses])
    for hose in hoses:
        sound.whole("hose: joint", hose.joint, 0, cell.arm.dof - 1)
        if cell.arm.prismatic[hose.joint]:
            sound.refuse("hose: joint", f"{hose.joint}, which slides", "a joint that turns")
    return hoses
