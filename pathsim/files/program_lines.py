"""Lines of the program that are several moves: read from the cell file, and written to it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pathsim.files.exact_numbers import text
from pathsim.files.program_schema import StepEntry
from pathsim.model import Move
from pathsim.model.stitch import Stitch
from pathsim.model.written import Line


def as_stitch(step: StepEntry, seam: Move) -> Move:
    """Return a stitch as the one move that its cell lays out."""
    return Stitch(seam, step.on or 0.0, step.off or 0.0, step.between or 0.0, step.lift or 0.0).move


def waiting(move: Move, seconds: float) -> Move:
    """Return a move, or a line of several that is still one, with more standing behind it."""
    if move.written is None:
        return replace(move, wait=move.wait + seconds)
    return move.written.said.waiting(seconds).move


def seam_of(line: Line) -> Move:
    """Return the seam that a line is about."""
    assert isinstance(line, Stitch)  # noqa: S101 - no other kind yet
    return line.seam


def said_of(line: Line, entry: dict[str, Any]) -> dict[str, Any]:
    """Return what the cell file says of a line, from what it says of its seam."""
    if isinstance(line, Stitch):
        entry = {"stitch" if key == "seam" else key: value for key, value in entry.items()}
        entry |= {"on": f"{text(line.on)} m", "off": f"{text(line.off)} m"}
        entry["between"] = f"{text(line.between)} m/s"
        if line.lift:
            entry["lift"] = f"{text(line.lift)} m"
    return entry
