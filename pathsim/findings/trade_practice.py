"""Habits of a weld programmer that can be told from moves, speeds and times: notes, no verdicts.

All of them are common practice in shops; no standard was found for their numbers.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.places import ALONG_WIRE
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.motion.path_timing import NO_WAY
from pathsim.transforms import rotation_angle
from pathsim.units import degrees, millimetres, percent, short_millimetres

#: Longer straight ways through the air are gone by a joint move, m.
_LONG_WAY = 0.2
#: The last leg to a weld is gone no faster, m/s.
_CREEP = 0.1
#: How far approach and retract points are from the weld, m.
_LEAST_LEG, _MOST_LEG = 0.02, 0.15
#: The torch is turned by no more on the way out, rad.
_TURNED = np.radians(2.0)
#: Crater times, s, and the most override of a first run.
_CRATER = (0.3, 0.8)
_FIRST_RUN = 0.5
_SLACK = 1e-9


def trade_practice(evidence: Evidence) -> Iterator[Finding]:
    """Yield a note for each habit that a program does not keep."""
    tracks = evidence.trajectory.tracks
    if tracks and evidence.cell.override > _FIRST_RUN + _SLACK:
        text = (
            f"The first run is set to {percent(evidence.cell.override)} override: "
            f"{percent(_FIRST_RUN)} or less is usual."
        )
        yield _note(tracks[0], text)
    for track in tracks:
        before = tracks[track.index - 1] if track.index > 0 else None
        behind = tracks[track.index + 1] if track.index + 1 < len(tracks) else None
        if track.move.arc_on:
            yield from _crater(track, behind)
            continue
        if track.move.kind is MoveKind.JOINT or track.move.wants_contact or track.fault is not None:
            continue
        if track.move.written is not None:
            continue  # between stitches: what it does was said for the whole line
        leaves = before is not None and before.move.at_weld
        comes = behind is not None and behind.move.at_weld
        if leaves and comes:
            continue  # from weld to weld in one line: neither a leg in nor one out
        if comes:
            yield from _way_in(track)
        elif leaves:
            yield from _way_out(evidence, track)
        elif track.tip_length > _LONG_WAY:
            way = millimetres(track.tip_length, 0)
            yield _note(
                track,
                f"{upper_move_name(track)} goes {way} through the air in a straight line: a joint "
                "move is quicker and spares the wrist.",
            )


def _crater(track: MoveTrack, behind: MoveTrack | None) -> Iterator[Finding]:
    """Hold the crater time at the end of a seam, joined pieces and spots left out."""
    if (behind is not None and behind.move.joined) or track.tip_length <= NO_WAY:
        return
    if track.move.written is not None and track.move.written.number > 1:
        return  # said at the first stitch of its line
    low, high = _CRATER
    crater = track.move.crater_time
    if low - _SLACK <= crater <= high + _SLACK:
        return
    has = "ends without a crater time" if crater == 0 else f"has {crater:g} s of crater time"
    yield _note(track, f"{upper_move_name(track)} {has}: {low:g} to {high:g} s is usual.")


def _way_in(track: MoveTrack) -> Iterator[Finding]:
    """Hold speed and length of the straight leg to a weld."""
    if track.move.speed > _CREEP + _SLACK:
        yield _note(
            track,
            f"{upper_move_name(track)} comes to the weld at {track.move.speed * 1e3:.0f} mm/s: "
            f"{_CREEP * 1e3:.0f} mm/s or less is usual on the last leg.",
        )
    yield from _leg(track, track.start, track.move.target)


def _way_out(evidence: Evidence, track: MoveTrack) -> Iterator[Finding]:
    """Hold length and torch angle of the straight leg from a weld."""
    yield from _leg(track, track.move.target, track.start)
    T = evidence.cell.tool_poses(track.q[[0, -1]])
    turned = float(rotation_angle(T[0, :3, :3].T @ T[1, :3, :3]))
    if turned > _TURNED:
        yield _note(
            track,
            f"The torch turns by {degrees(turned)} on the way out in {upper_move_name(track)}: "
            f"teach '{track.move.target}' with the torch angle of the weld end.",
        )


def _leg(track: MoveTrack, air: str, weld: str) -> Iterator[Finding]:
    if NO_WAY < track.tip_length < _LEAST_LEG or track.tip_length > _MOST_LEG:
        usual = f"{_LEAST_LEG * 1e3:.0f} to {short_millimetres(_MOST_LEG)}"
        yield _note(
            track,
            f"'{air}' is {millimetres(track.tip_length, 0)} from '{weld}': {usual} "
            f"{ALONG_WIRE} is usual.",
        )


def _note(track: MoveTrack, text: str) -> Finding:
    time = float(track.t[0])
    return Finding(Level.NOTE, FindingKind.TRADE_PRACTICE, text, track.number, time)
