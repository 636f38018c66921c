"""Points taught as poses: which joint values were taken, and how many others would fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from pathsim.findings.axis_words import column_name, joint_values
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell
from pathsim.motion import NoteKind, Pick, PlanNote

_SEARCHED = "This arm's wrist has no closed form: they were searched for, and some may be missed."


def postures_picked(evidence: Evidence) -> Iterator[Finding]:
    """One watch for all points whose pose leaves joint values open, whole turns counted.

    One note for those of which a search found but one solution: it proves no more.
    """
    notes = [n for n in evidence.trajectory.notes if n.kind is NoteKind.POSTURE_PICKED]
    is_open = {n.point for n in notes if n.pick is not None and n.pick.is_open}
    for level, chosen in (
        (Level.WATCH, [n for n in notes if n.point in is_open]),
        (Level.NOTE, [n for n in notes if n.point not in is_open]),
    ):
        if chosen:
            yield _finding(evidence, level, chosen)


def _finding(evidence: Evidence, level: Level, notes: Sequence[PlanNote]) -> Finding:
    cell, tracks = evidence.cell, evidence.trajectory.tracks
    names = list(dict.fromkeys(note.point for note in notes))
    is_search = any(note.pick is not None and note.pick.is_search for note in notes)
    if level is Level.WATCH:
        what = "a pose" if len(names) == 1 else f"one of {len(names)} poses"
        said = [
            f"'{names[0]}' is {what} that several sets of joint values within the limits meet."
            if len(names) == 1
            else f"{len(names)} points are poses that several sets of joint values within the "
            "limits meet."
        ]
        said += [_SEARCHED] if is_search else []
        said += [_open_point(cell, name, notes) for name in names]
        said.append(
            "Clearances hold for the values taken alone, and the arm may take others. Taught joint "
            "values settle it too."
        )
    else:
        said = [_found_once(cell, name, notes) for name in names]
        said.append(
            "Each is the only set that a search found; it may have missed others. Joint values "
            "settle it."
        )
    first = next((note.move for note in notes if note.move is not None), None)
    track = None if first is None else tracks[first]
    return Finding(
        level,
        FindingKind.POSTURE_PICKED,
        " ".join(said),
        None if track is None else track.number,
        None if track is None else float(track.t[-1]),
        numbers={"points": float(len(names))},
    )


def _picks(name: str, notes: Sequence[PlanNote]) -> list[tuple[int | None, Pick]]:
    """Return the picks of a point that differ, each with the move that came to it first."""
    picks: list[tuple[int | None, Pick]] = []
    for note in notes:
        if note.point == name and note.pick is not None:
            same = [p for _, p in picks if np.allclose(p.q, note.pick.q, atol=1e-6)]
            if not same:
                picks.append((note.move, note.pick))
    return picks


def _open_point(cell: Cell, name: str, notes: Sequence[PlanNote]) -> str:
    """Say what was taken for a point, how many others there are, and how to say which."""
    picks = _picks(name, notes)
    parts = []
    for move, pick in picks:
        when = ""
        if len(picks) > 1:
            when = "at the start " if move is None else f"in move {move + 1} "
        nearest = "nearest the middle of its range" if pick.from_middle else "least turn"
        parts.append(f"taken {when}{_values(cell, pick)}, {nearest}; {_others(cell, pick)}")
    return f"'{name}': {'; '.join(parts)}. {_cure(cell, picks)}"


def _values(cell: Cell, pick: Pick) -> str:
    posture = "" if pick.posture is None else f" ({pick.posture})"
    return joint_values(cell, np.array(pick.q)) + posture


def _others(cell: Cell, pick: Pick) -> str:
    """Say how many others fit."""
    said = []
    if pick.others:
        said.append("1 other set fits" if pick.others == 1 else f"{pick.others} other sets fit")
    if pick.unlimited:
        joints = ", ".join(column_name(cell.arm, joint) for joint in pick.unlimited)
        said.append(f"any whole turn of {joints} fits")
    if pick.shares_turn:
        said.append("joints 4 and 6 line up and may share their turn in any way")
    return ", ".join(said)


def _cure(cell: Cell, picks: list[tuple[int | None, Pick]]) -> str:
    """Say what to put into the points file to keep what was taken."""
    pick = picks[0][1]
    if len(picks) > 1 or pick.shares_turn:
        return "Teach its joint values."
    said = []
    if pick.is_other_posture and pick.posture is not None:
        said.append(f"'{pick.posture}' under 'posture'")
    shown = cell.arm.readings.shown(np.array(pick.q)[: cell.arm.dof])
    for joint in pick.apart:
        value = round(float(np.degrees(shown[joint]))) + 0
        said.append(f"{value} under 'about {column_name(cell.arm, joint)} deg'")
    if not said:
        return "Teach its joint values."
    return f"To keep it, put {' and '.join(said)}."


def _found_once(cell: Cell, name: str, notes: Sequence[PlanNote]) -> str:
    parts = [_values(cell, pick) for _, pick in _picks(name, notes)]
    return f"'{name}' is a pose; taken {'; '.join(parts)}."
