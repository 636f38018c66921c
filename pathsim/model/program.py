"""The program: moves from taught point to taught point."""

from __future__ import annotations

from dataclasses import dataclass

from pathsim.model import sound
from pathsim.model.move import Move


def why_not_rounded(move: Move, following: Move | None) -> str:
    """Say why the arm has to stop at the end of a move that is to be rounded; empty if it need not.

    ``following``: the first move behind it; None where the program ends.
    """
    if not move.rounding:
        return ""
    if following is None:
        return "the program ends there"
    if following.arc_on:
        return "the arc starts there"
    if following.search is not None:
        return "a search starts there"
    if following.station is not None:
        return "the way into or out of a station starts there"
    return "the arm waits there" if move.wait or move.pauses else ""


@dataclass(frozen=True)
class Program:
    """The point where the arm stands, and the moves from there; of a cell at least one."""

    start: str
    moves: tuple[Move, ...]

    def __post_init__(self) -> None:
        sound.text("program: start", self.start)
        moves = sound.records("program: moves", self.moves, Move, "a Move")
        sound.put(self, moves=moves)
        if moves and moves[-1].rounding:
            due = f"0: {why_not_rounded(moves[-1], None)}"
            sound.refuse(f"move to {moves[-1].target!r}: rounding", moves[-1].rounding, due)
        for before, move in zip((None, *moves), moves, strict=False):
            stands_at = self.start if before is None else before.target
            if move.tack and move.target != stands_at:
                due = f"the point where the torch stands then, {stands_at!r}"
                sound.refuse("tack: target", move.target, due)
            why = "" if before is None else why_not_rounded(before, move)
            if before is not None and why:
                due = f"0: {why}"
                sound.refuse(f"move to {before.target!r}: rounding", before.rounding, due)
            if not move.joined:
                continue
            if (
                before is None
                or not before.arc_on
                or before.standing > before.lead
                or before.pauses
            ):
                due = "it right behind a seam without crater time, postflow and wait"
                sound.refuse(f"move to {move.target!r}: joined", True, due)
            if (before.speed, before.weave) != (move.speed, move.weave):
                due = "the speed and the weave of the seam before"
                sound.refuse(f"move to {move.target!r}: joined", True, due)

    def __repr__(self) -> str:
        return f"Program(from {self.start!r}, {len(self.moves)} moves)"
