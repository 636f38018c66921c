"""Joint limits and joint speeds."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.clearance import Span
from pathsim.findings.finding import Evidence, Finding, Level, move_name, place_in_move
from pathsim.motion import MoveTrack
from pathsim.units import degrees

#: Nearer to a limit than this is worth a note, rad.
_NEAR = np.radians(3.0)
_ROUNDING = 1e-7  # rad


def joint_limits(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each joint and move that goes past a limit, or comes near one."""
    arm = evidence.cell.arm
    for track in evidence.trajectory.tracks:
        # Joints move evenly between knots, so knots hold the extremes.
        room = np.minimum(track.q - arm.lower, arm.upper - track.q)
        for joint in np.flatnonzero(room.min(axis=0) < _NEAR):
            yield _limit(evidence, track, int(joint), room[:, joint])


def _limit(evidence: Evidence, track: MoveTrack, joint: int, room: np.ndarray) -> Finding:
    arm = evidence.cell.arm
    worst = int(np.argmin(room))
    value = float(track.q[worst, joint])
    is_low = value - arm.lower[joint] < arm.upper[joint] - value
    limit = float(arm.lower[joint] if is_low else arm.upper[joint])
    past = room[worst] < -_ROUNDING
    bad = track.t[room < (-_ROUNDING if past else _NEAR)]
    spans = (Span(float(bad[0]), float(bad[-1])),)
    where = f"{place_in_move(track, spans)} of {move_name(track)}"
    if past:
        text = (
            f"Joint {joint + 1} would have to go to {degrees(value)}, past its limit of "
            f"{degrees(limit)}, {where}."
        )
    else:
        text = (
            f"Joint {joint + 1} comes within {degrees(float(room[worst]))} of its limit of "
            f"{degrees(limit)}, {where}."
        )
    numbers = {"joint": joint + 1.0, "value": value, "limit": limit}
    level = Level.STOP if past else Level.NOTE
    time = float(track.t[worst])
    return Finding(level, "joint limit", text, track.number, time, spans, numbers=numbers)


def joint_speeds(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each move whose tip speed asks more of a joint than it can do."""
    arm = evidence.cell.arm
    for track in evidence.trajectory.tracks:
        if len(track.strain) == 0 or track.strain.max() <= 1 + 1e-6:
            continue
        segment, joint = np.unravel_index(int(np.argmax(track.strain)), track.strain.shape)
        share = float(track.strain[segment, joint])
        over = np.flatnonzero((track.strain > 1 + 1e-6).any(axis=1))
        spans = (Span(float(track.t[over[0]]), float(track.t[over[-1] + 1])),)
        needed, limit = share * float(arm.speed[joint]), float(arm.speed[joint])
        text = (
            f"Joint {joint + 1} would need {degrees(needed, 0)}/s and has {degrees(limit, 0)}/s, "
            f"{place_in_move(track, spans)} of {move_name(track)}. "
        )
        if track.move.arc_on:
            text += "The seam cannot be run at this speed."
        else:
            text += (
                f"The arm has to slow down there; {track.move.speed / share * 1e3:.0f} mm/s "
                "would keep it within its limits."
            )
        level = Level.STOP if track.move.arc_on else Level.WATCH
        yield Finding(
            level,
            "joint speed",
            text,
            track.number,
            float(track.t[segment]),
            spans,
            numbers={"joint": joint + 1.0, "needed": needed, "limit": limit},
        )
