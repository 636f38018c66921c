"""A turning table for the part: extra axes that are no joints of the arm.

It has one axis, on which it turns, or two: a tilt axis that stands in the shop and carries the one
on which the table turns.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike

from pathsim.model import sound
from pathsim.records import FieldsOnly
from pathsim.transforms import Array, inverse, pose
from pathsim.units import MOST

#: A table that turns farther is in a wrong unit, rad.
_FARTHEST_TURN = 20 * np.pi
#: What files and records call the two.
TABLE, TILT_FRAME = "turning table", "tilt frame"


class StandsOn(IntEnum):
    """What a body stands on: the floor, the tilt frame, or the table that turns."""

    FLOOR = 0
    TILT = 1
    TABLE = 2

    @property
    def is_carried(self) -> bool:
        """Whether it is not the floor."""
        return self is not StandsOn.FLOOR

    @property
    def word(self) -> str:
        """What files call it; empty for the floor, which is not named."""
        return ("", TILT_FRAME, TABLE)[self]

    @classmethod
    def named(cls, word: str | None) -> StandsOn:
        """Return what a file names; the floor for any other word, and for none."""
        return {TILT_FRAME: cls.TILT, TABLE: cls.TABLE}.get(word or "", cls.FLOOR)


def standing_on(on_tilt: bool, on_table: bool) -> StandsOn:
    """Return what something stands on, of which is said whether it tilts alone, or turns too."""
    if on_table:
        return StandsOn.TABLE
    return StandsOn.TILT if on_tilt else StandsOn.FLOOR


def require_one_stand(of: str, on_tilt: bool, on_table: bool) -> None:
    """Refuse what stands on both; raises CellError."""
    if on_tilt and on_table:
        sound.refuse(f"{of}: on_tilt", True, "False with on_table: what turns tilts along")


@dataclass(frozen=True, eq=False)
class TiltAxis(FieldsOnly):
    """What tilts about z of ``T_world_axis (4, 4)``, and carries the table; rad, rad/s, rad/s^2.

    Its frame is the world's with the axis at zero.
    """

    T_world_axis: Array
    lower: float
    upper: float
    speed: float
    acceleration: float

    def __post_init__(self) -> None:
        _require_axis(self, "tilt axis")

    def __repr__(self) -> str:
        return f"TiltAxis({_range(self)})"

    def motion(self, angle: ArrayLike) -> Array:
        """``T_world_tilt (..., 4, 4)``, m, at angles ``(...)`` rad; the identity at zero."""
        return _about(self.T_world_axis, np.asarray(angle, float))


@dataclass(frozen=True, eq=False)
class TurningTable(FieldsOnly):
    """What turns about z of ``T_world_axis (4, 4)``; rad, rad/s, rad/s^2.

    Its frame is the world's with the table at zero: bodies on it are placed as they stand
    then, and ``motion`` moves them from there. ``tilt``: the axis that carries it, if it has one;
    ``T_world_axis`` is then its place with that at zero too. Its values ``(axes,)`` are those of
    its axes from the floor up: the tilt, if it has one, then the turn.
    """

    T_world_axis: Array
    lower: float
    upper: float
    speed: float
    acceleration: float
    tilt: TiltAxis | None = None

    def __post_init__(self) -> None:
        _require_axis(self, "turning table")
        if self.tilt is not None:
            sound.record("turning table: tilt", self.tilt, TiltAxis, "a TiltAxis or None")

    def __repr__(self) -> str:
        tilt = "" if self.tilt is None else f", tilt {_range(self.tilt)}"
        return f"TurningTable({_range(self)}{tilt})"

    @property
    def axes(self) -> tuple[TiltAxis | TurningTable, ...]:
        """Its axes, from the floor up."""
        return (self,) if self.tilt is None else (self.tilt, self)

    def motion(self, values: ArrayLike) -> Array:
        """``T_world_table (..., 4, 4)``, m, at values ``(..., axes)`` rad; the identity at zero.

        Raises ValueError when there is not one value for each of its axes.
        """
        values = self._values(values)
        turned = _about(self.T_world_axis, values[..., -1])
        if self.tilt is None:
            return turned
        return np.asarray(self.tilt.motion(values[..., 0]) @ turned)

    def tilt_motion(self, values: ArrayLike) -> Array:
        """``T_world_tilt (..., 4, 4)``, m, at values ``(..., axes)``; the identity if none is."""
        values = self._values(values)
        if self.tilt is None:
            return np.broadcast_to(np.eye(4), (*values.shape[:-1], 4, 4))
        return self.tilt.motion(values[..., 0])

    def frame_motion(self, stands_on: StandsOn, values: ArrayLike) -> Array:
        """``T_world_frame (..., 4, 4)``, m, of what a body stands on, at values ``(..., axes)``."""
        if stands_on is StandsOn.TABLE:
            return self.motion(values)
        if stands_on is StandsOn.TILT:
            return self.tilt_motion(values)
        return np.broadcast_to(np.eye(4), (*self._values(values).shape[:-1], 4, 4))

    def _values(self, values: ArrayLike) -> Array:
        found = np.asarray(values, float)
        count = len(self.axes)
        if not found.ndim or found.shape[-1] != count:
            raise ValueError(f"came values {found.shape}; expected (..., {count}), one an axis")
        return found


def _about(T_world_axis: Array, angles: Array) -> Array:
    """Return turns ``(..., 4, 4)`` by ``angles (...)`` rad about z of a frame, in the world."""
    turn = np.zeros((*angles.shape, 3, 3))
    turn[..., 0, 0] = turn[..., 1, 1] = np.cos(angles)
    turn[..., 1, 0] = np.sin(angles)
    turn[..., 0, 1] = -turn[..., 1, 0]
    turn[..., 2, 2] = 1.0
    return np.asarray(T_world_axis @ pose(turn, np.zeros(3)) @ inverse(T_world_axis))


def _require_axis(axis: TiltAxis | TurningTable, of: str) -> None:
    sound.put(axis, T_world_axis=sound.pose(f"{of}: T_world_axis", axis.T_world_axis))
    for name in ("lower", "upper"):
        value, far = getattr(axis, name), _FARTHEST_TURN
        sound.number(f"{of}: {name}", value, "rad", low=-far, high=far)
    if not axis.lower < axis.upper:
        sound.refuse(f"{of}: upper", axis.upper, f"more than lower, {axis.lower:g} rad")
    most = MOST["turning speed"]
    sound.number(f"{of}: speed", axis.speed, "rad/s", above=0.0, high=most)
    most = MOST["turning acceleration"]
    sound.number(f"{of}: acceleration", axis.acceleration, "rad/s2", above=0.0, high=most)


def _range(axis: TiltAxis | TurningTable) -> str:
    low, high = np.degrees([axis.lower, axis.upper])
    return f"{low:.6g} to {high:.6g} deg"
