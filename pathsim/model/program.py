"""The program: moves from taught point to taught point."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pathsim.model.weave import Weave

#: How far off a part's surface, in or out, the wire's end may be on a seam unless it says, m.
OFF_PART = 3e-3
#: So much of the wire, above the weave's amplitude, is its end, which may touch parts, m.
WIRE_END = 5e-3


class MoveKind(StrEnum):
    """How the arm gets to the next point."""

    JOINT = "joint"
    LINEAR = "linear"
    ARC = "arc"


@dataclass(frozen=True)
class Move:
    """One move to ``target``.

    ``speed`` is a share of the joint limits (1.0 = 100 %) on a joint move, the tip speed in
    m/s otherwise. ``via`` is the point that an arc passes. ``arc_on`` makes it a seam, which
    may have a weave and a crater time (s) at its end. ``joined``: goes on from the seam before
    without a stop, at its speed and in step with its weave. ``wait`` (s): the arm stands still
    after the move. ``rounding`` (m): the arm may leave the line so far before the target and
    come back to the next one so far behind it; 0 stops there. Of a seam: ``off_part`` (m) is how
    far off a part's surface, in or out, the wire's end may be, weave left out; ``wire_end`` (m),
    above the weave's amplitude, how much of the wire may touch parts; ``surfacing``: it is laid
    on a plain face, not in a joint. ``line`` is where the cell
    file says it.
    """

    kind: MoveKind
    target: str
    speed: float
    via: str | None = None
    arc_on: bool = False
    weave: Weave | None = None
    crater: float = 0.0
    line: int | None = None
    joined: bool = False
    wait: float = 0.0
    rounding: float = 0.0
    off_part: float = OFF_PART
    wire_end: float = WIRE_END
    surfacing: bool = False

    @property
    def touching_end(self) -> float:
        """How much of the wire's end may touch parts on this seam, m."""
        return self.wire_end + (0.0 if self.weave is None else self.weave.amplitude)

    @property
    def label(self) -> str:
        """What a table calls this move: a seam is known by its seam, not by its line."""
        return "seam" if self.arc_on else str(self.kind)


@dataclass(frozen=True)
class Program:
    """The point where the arm stands, and the moves from there."""

    start: str
    moves: tuple[Move, ...]
