"""Habits of a sound program that can be told from its moves alone (all of them common practice)."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.places import ALONG_WIRE
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, rotation_angle
from pathsim.units import degrees, millimetres

#: The torch should not turn more than this on the way down to the weld.
_TURNED = np.radians(2.0)
#: The way down runs along the wire; further from it than this is worth a word.
_ASKEW = np.radians(45.0)


def program_checks(evidence: Evidence) -> Iterator[Finding]:
    """Yield notes on approach and retract; none of them is about a collision."""
    tracks = evidence.trajectory.tracks
    for track in tracks:
        if not track.move.at_weld:
            continue
        if not track.move.joined:
            yield from _start(evidence, track)
        following = tracks[track.index + 1] if track.index + 1 < len(tracks) else None
        if following is None or not following.move.joined:
            yield from _end(evidence, track, following)


def _note(track: MoveTrack, text: str) -> Finding:
    time = float(track.t[0])
    return Finding(Level.NOTE, FindingKind.PROGRAM_HABIT, text, track.number, time)


def _start(evidence: Evidence, track: MoveTrack) -> Iterator[Finding]:
    """Hold that a straight way leads down to the seam, the torch turned already."""
    if track.index == 0:
        yield _note(track, f"{_upper(track)} starts with the arc: teach an approach point before.")
        return
    before = evidence.trajectory.tracks[track.index - 1]
    if before.move.kind is MoveKind.JOINT:
        text = (
            f"A joint move goes right to the weld start, '{before.move.target}': it does not "
            f"travel straight. Teach an approach point {ALONG_WIRE} from it, and go in on a "
            "straight line."
        )
        yield _note(before, text)
        return
    if before.move.at_work:
        return
    T = evidence.cell.tool_poses(before.q[[0, -1]])
    turn = float(rotation_angle(T[0, :3, :3].T @ T[1, :3, :3]))
    if turn > _TURNED:
        text = (
            f"The torch turns by {degrees(turn)} on the way down in {move_name(before)}: teach the "
            "approach point with the torch angle of the weld start."
        )
        yield _note(before, text)
    way = T[1, :3, 3] - T[0, :3, 3]
    if _angle(way, T[1, :3, 2]) > _ASKEW and np.linalg.norm(way) > 1e-3:
        askew = degrees(_angle(way, T[1, :3, 2]), 0)
        text = (
            f"{_upper(before)} comes in {askew} aside of the wire: teach the approach {ALONG_WIRE}."
        )
        yield _note(before, text)


def _end(evidence: Evidence, track: MoveTrack, following: MoveTrack | None) -> Iterator[Finding]:
    """Hold that a straight way leads up from a weld end before any joint move."""
    if following is None:
        yield _note(track, f"The program ends at the weld end, '{track.move.target}', torch in.")
        return
    if following.move.kind is MoveKind.JOINT:
        text = (
            f"The program leaves '{track.move.target}', the weld end, with a joint move. Teach a "
            f"retract point {ALONG_WIRE} first."
        )
        yield _note(following, text)
        return
    if following.move.at_work:
        return
    T = evidence.cell.tool_poses(following.q[[0, -1]])
    way = T[1, :3, 3] - T[0, :3, 3]
    length = float(np.linalg.norm(way))
    if length > 1e-3 and _angle(-way, T[0, :3, 2]) > _ASKEW and way[2] < length / 2:
        text = (
            f"{_upper(following)} leaves the weld sideways, {millimetres(length, 0)} far: teach "
            f"the retract {ALONG_WIRE}."
        )
        yield _note(following, text)


def _upper(track: MoveTrack) -> str:
    name = move_name(track)
    return name[0].upper() + name[1:]


def _angle(a: Array, b: Array) -> float:
    size = max(float(np.linalg.norm(a) * np.linalg.norm(b)), 1e-12)
    return float(np.arccos(np.clip(a @ b / size, -1, 1)))
