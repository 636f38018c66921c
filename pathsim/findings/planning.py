"""What was decided or noticed while planning."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.motion import PlanNote
from pathsim.units import degrees, millimetres


def planning_notes(evidence: Evidence) -> Iterator[Finding]:
    """Postures that were chosen, arrivals that differ, points that contradict themselves."""
    for note in evidence.trajectory.notes:
        yield _finding(evidence, note)


def _finding(evidence: Evidence, note: PlanNote) -> Finding:
    track = None if note.move is None else evidence.trajectory.tracks[note.move]
    number = None if track is None else track.number
    time = None if track is None else float(track.t[-1])
    if note.kind == "posture picked":
        text = (
            f"Point '{note.point}' has a pose but no joint values: the posture nearest to the "
            "one before was taken. The arm may choose another; teach joint values to be sure."
        )
        return Finding(Level.NOTE, note.kind, text, number, time)
    if note.kind == "arrives otherwise" and track is not None:
        text = (
            f"{move_name(track)} arrives with joint {note.joint} {degrees(note.turn)} away from "
            f"what was taught for '{note.point}': the arm keeps its posture on a straight move "
            "and cannot take the taught one."
        )
        text = text[0].upper() + text[1:]
        return Finding(
            Level.WATCH, note.kind, text, number, time, numbers={"joint turn": note.turn}
        )
    text = (
        f"Point '{note.point}': its joint values and its pose are {millimetres(note.amount)} and "
        f"{degrees(note.turn)} apart. The arm, its base or the torch is described wrongly, or the "
        "point was taught with another tool. The joint values were used."
    )
    numbers = {"distance": note.amount, "turn": note.turn}
    return Finding(Level.STOP, note.kind, text, number, time, numbers=numbers)
