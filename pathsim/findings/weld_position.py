"""The welding position of a seam in the room: slope, rotation and the main position next to them.

After ISO 6947 (numbers of its figures from memory): the slope is the angle of the weld's axis, in
the direction of travel, over the horizontal; the rotation is the angle about that axis from the
horizontal to the line from the weld's root through the middle of its face: 90 deg looks up, 0
aside, -90 down. Main positions: PA at rotation 90, PB 45, PC 0, PD -45, PE -90, all at slope 0; PF
is upwards at slope 90, PG downwards. Between them the nearest is named, with both angles beside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from pathsim.findings.spread import Spread
from pathsim.transforms import Array

#: Main positions of a level weld, by their rotation in deg.
_LEVEL = {90: "PA", 45: "PB", 0: "PC", -45: "PD", -90: "PE"}
#: From this slope on a weld is a vertical one, rad: half way between the main positions.
_STEEP = np.radians(45.0)
#: A weld nearer to upright than this has no rotation, as a cosine of its slope.
_UPRIGHT = np.sin(np.radians(5.0))
_UP = np.array([0.0, 0.0, 1.0])


class Position(StrEnum):
    """Main welding positions of ISO 6947, and what each is called."""

    PA = "PA"
    PB = "PB"
    PC = "PC"
    PD = "PD"
    PE = "PE"
    PF = "PF"
    PG = "PG"

    @property
    def in_words(self) -> str:
        """Its name in the trade."""
        return _NAMES[self]


_NAMES = {
    Position.PA: "flat",
    Position.PB: "horizontal vertical",
    Position.PC: "horizontal",
    Position.PD: "horizontal overhead",
    Position.PE: "overhead",
    Position.PF: "vertical up",
    Position.PG: "vertical down",
}


@dataclass(frozen=True)
class WeldPosition:
    """Positions along one seam, in the order in which they come first; angles in rad.

    ``by_torch``: no face was found, so the torch's axis was taken for the line through the weld.
    """

    positions: tuple[Position, ...]
    slope: Spread
    rotation: Spread
    by_torch: bool = False


def slopes(travel: Array) -> Array:
    """Slopes ``(n,)`` of unit directions of travel ``(n, 3)`` in the world, rad."""
    return np.asarray(np.arcsin(np.clip(travel @ _UP, -1, 1)))


def rotations(travel: Array, face: Array) -> Array:
    """Rotations ``(n,)`` of lines out of the weld ``face (n, 3)`` about ``travel (n, 3)``, rad.

    Both unit, in the world. Of a weld within 5 deg of upright there is none: 0.
    """
    up = _UP - (travel @ _UP)[:, None] * travel
    size = np.linalg.norm(up, axis=1, keepdims=True)
    up = np.where(size > _UPRIGHT, up / np.maximum(size, _UPRIGHT), 0.0)
    return np.asarray(np.arcsin(np.clip((face * up).sum(axis=1), -1, 1)))


def main_position(slope: float, rotation: float) -> Position:
    """Return the main position that is nearest."""
    if slope >= _STEEP:
        return Position.PF
    if slope <= -_STEEP:
        return Position.PG
    degrees = np.degrees(rotation)
    return Position(_LEVEL[min(_LEVEL, key=lambda main: (abs(degrees - main), -main))])


def weld_position(travel: Array, face: Array, *, by_torch: bool = False) -> WeldPosition:
    """Return the positions along a seam: ``travel`` and ``face (n, 3)``, unit, in the world."""
    slope, rotation = slopes(travel), rotations(travel, face)
    each = [main_position(s, r) for s, r in zip(slope.tolist(), rotation.tolist(), strict=True)]
    return WeldPosition(tuple(dict.fromkeys(each)), Spread.of(slope), Spread.of(rotation), by_torch)
