"""What was noticed while planning: arrivals that differ, points that contradict themselves."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.axis_words import axis_value
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.motion import NoteKind, PlanNote
from pathsim.units import degrees, millimetres


def planning_notes(evidence: Evidence) -> Iterator[Finding]:
    """Arrivals that differ from what was taught, and points that contradict themselves."""
    for note in evidence.trajectory.notes:
        if note.kind is NoteKind.ARRIVES_OTHERWISE:
            yield _otherwise(evidence, note)
        elif note.kind is NoteKind.POSE_DISAGREES:
            yield _disagrees(note)


def _disagrees(note: PlanNote) -> Finding:
    text = (
        f"Point '{note.point}': its joint values and its pose are {millimetres(note.amount)} and "
        f"{degrees(note.turn)} apart. The arm, its base or the torch is described wrongly, or the "
        "point was taught with another tool. The joint values were used."
    )
    numbers = {"distance": note.amount, "turn": note.turn}
    return Finding(Level.STOP, FindingKind.POSE_DISAGREES, text, numbers=numbers)


def _otherwise(evidence: Evidence, note: PlanNote) -> Finding:
    """Say how a straight move arrives otherwise: which joint, which posture."""
    assert note.move is not None  # noqa: S101 - a move arrives
    track = evidence.trajectory.tracks[note.move]
    how = ""
    if note.axis is not None:
        axes = evidence.cell.axes
        amount = axis_value(evidence.cell, note.axis, note.turn)
        how = f" with {axes.names[note.axis]} {amount} away from what was taught for '{note.point}'"
        if abs(abs(note.turn) - 2 * np.pi) < np.radians(1.0):
            how += ", a whole turn"
    if note.taught is not None and note.taken is not None:
        how += f" in the posture {note.taken}, where '{note.point}' asks for {note.taught}"
    text = (
        f"{move_name(track)} arrives{how}: the arm keeps its posture on a straight move and cannot "
        "take the taught one."
    )
    return Finding(
        Level.WATCH,
        FindingKind.ARRIVES_OTHERWISE,
        text[0].upper() + text[1:],
        track.number,
        float(track.t[-1]),
        numbers={"joint turn": note.turn},
    )
