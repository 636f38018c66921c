"""What was decided or noticed while planning."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.axis_words import axis_value
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.motion import NoteKind, PlanNote
from pathsim.units import degrees, millimetres


def planning_notes(evidence: Evidence) -> Iterator[Finding]:
    """Postures that were chosen, arrivals that differ, points that contradict themselves."""
    for note in evidence.trajectory.notes:
        yield _finding(evidence, note)


def _finding(evidence: Evidence, note: PlanNote) -> Finding:
    track = None if note.move is None else evidence.trajectory.tracks[note.move]
    number = None if track is None else track.number
    time = None if track is None else float(track.t[-1])
    if note.kind is NoteKind.POSTURE_PICKED:
        taken = f" ({' '.join(note.words)})" if note.words else ""
        text = (
            f"Point '{note.point}' has a pose but no joint values: the posture{taken} nearest to "
            "the one before was taken. The arm may choose another; teach joint values, or give "
            "the point a branch, to be sure."
        )
        return Finding(Level.NOTE, FindingKind.POSTURE_PICKED, text, number, time)
    if note.kind is NoteKind.ARRIVES_OTHERWISE and track is not None:
        text = _otherwise(evidence, note, move_name(track))
        return Finding(
            Level.WATCH,
            FindingKind.ARRIVES_OTHERWISE,
            text,
            number,
            time,
            numbers={"joint turn": note.turn},
        )
    text = (
        f"Point '{note.point}': its joint values and its pose are {millimetres(note.amount)} and "
        f"{degrees(note.turn)} apart. The arm, its base or the torch is described wrongly, or the "
        "point was taught with another tool. The joint values were used."
    )
    numbers = {"distance": note.amount, "turn": note.turn}
    return Finding(Level.STOP, FindingKind.POSE_DISAGREES, text, number, time, numbers=numbers)


def _otherwise(evidence: Evidence, note: PlanNote, move: str) -> str:
    """Say how a straight move arrives in another posture: which joint, which branch."""
    how = ""
    if note.joint:
        axes = evidence.cell.axes
        amount = axis_value(evidence.cell, axes.names.index(note.joint), note.turn)
        how = f" with {note.joint} {amount} away from what was taught for '{note.point}'"
        if abs(abs(note.turn) - 2 * np.pi) < np.radians(1.0):
            how += ", a whole turn"
    if note.words:
        border = note.words.index("/")
        wanted, taken = " ".join(note.words[:border]), " ".join(note.words[border + 1 :])
        how += f" in the posture {taken}, where '{note.point}' asks for {wanted}"
    text = (
        f"{move} arrives{how}: the arm keeps its posture on a straight move and cannot take the "
        "taught one."
    )
    return text[0].upper() + text[1:]
