"""Joint limits and joint speeds."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.clearance import Span
from pathsim.findings.axis_words import axis_name, axis_speed, axis_value, on_display
from pathsim.findings.finding import Evidence, Finding, Level, move_name, place_in_move
from pathsim.findings.kinds import FindingKind
from pathsim.motion import MoveTrack

#: Nearer to a limit than this is worth a note, rad.
_NEAR = np.radians(3.0)
_NEAR_SLIDE = 0.02  # m, for joints that slide
_ROUNDING = 1e-7  # rad


def joint_limits(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each joint and move that goes past a limit, or comes near one."""
    axes = evidence.cell.axes
    near = np.where(axes.prismatic, _NEAR_SLIDE, _NEAR)
    for track in evidence.trajectory.tracks:
        # Joints move evenly between knots, so knots hold the extremes.
        room = axes.room(track.q)
        for joint in np.flatnonzero(room.min(axis=0) < near):
            yield _limit(evidence, track, int(joint), room[:, joint])


def _limit(evidence: Evidence, track: MoveTrack, joint: int, room: np.ndarray) -> Finding:
    cell, axes = evidence.cell, evidence.cell.axes
    worst = int(np.argmin(room))
    value = float(track.q[worst, joint])
    is_low = value - axes.lower[joint] < axes.upper[joint] - value
    limit = float(axes.lower[joint] if is_low else axes.upper[joint])
    there = ""
    if joint < cell.arm.dof and cell.arm.has_moving_limits(joint):
        limit, there = _moving_limit(evidence, joint, track.q[worst])
    past = room[worst] < -_ROUNDING
    near = _NEAR_SLIDE if axes.prismatic[joint] else _NEAR
    bad = track.t[room < (-_ROUNDING if past else near)]
    shown = on_display(cell, joint, track.q[worst])
    spans = (Span(float(bad[0]), float(bad[-1])),)
    where = f"{place_in_move(track, spans)} of {move_name(track)}"
    if past:
        text = (
            f"{axis_name(cell, joint)} would have to go to {axis_value(cell, joint, value)}"
            f"{shown}, past its limit of {axis_value(cell, joint, limit)}{there}, {where}."
        )
    else:
        text = (
            f"{axis_name(cell, joint)} comes within {axis_value(cell, joint, float(room[worst]))}"
            f" of its limit of {axis_value(cell, joint, limit)}{there or shown}, {where}."
        )
    numbers = {"joint": joint + 1.0, "value": value, "limit": limit}
    level = Level.STOP if past else Level.NOTE
    time = float(track.t[worst])
    return Finding(level, FindingKind.JOINT_LIMIT, text, track.number, time, spans, numbers=numbers)


def _moving_limit(evidence: Evidence, joint: int, q: np.ndarray) -> tuple[float, str]:
    """Return the nearer limit of a coupled joint where the others stand, and words on it."""
    cell = evidence.cell
    arm = cell.arm
    assert arm.shown_limits is not None  # noqa: S101 - only then do limits move
    shown = arm.readings.shown(q[: arm.dof])
    low, high = (float(v) for v in arm.shown_limits[joint])
    nearer = low if shown[joint] - low < high - shown[joint] else high
    limit = float(q[joint] + arm.readings.mix[joint, joint] * (nearer - shown[joint]))
    others = [arm.joint_name(int(k)) for k in np.flatnonzero(arm.readings.mix[joint]) if k != joint]
    at = f" ({axis_value(cell, joint, nearer)} on the display, which counts {others[0]} too)"
    return limit, at


def joint_speeds(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each move whose tip speed asks more of a joint than it can do."""
    cell, axes = evidence.cell, evidence.cell.axes
    for track in evidence.trajectory.tracks:
        if len(track.speed_ratio) == 0 or track.speed_ratio.max() <= 1 + 1e-6:
            continue
        segment, joint = np.unravel_index(
            int(np.argmax(track.speed_ratio)), track.speed_ratio.shape
        )
        share = float(track.speed_ratio[segment, joint])
        over = np.flatnonzero((track.speed_ratio > 1 + 1e-6).any(axis=1))
        spans = (Span(float(track.t[over[0]]), float(track.t[over[-1] + 1])),)
        needed, limit = share * float(axes.speed[joint]), float(axes.speed[joint])
        text = (
            f"{axis_name(cell, int(joint))} would need {axis_speed(cell, int(joint), needed)} and "
            f"has {axis_speed(cell, int(joint), limit)}, {place_in_move(track, spans)} of "
            f"{move_name(track)}. "
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
            FindingKind.JOINT_SPEED,
            text,
            track.number,
            float(track.t[segment]),
            spans,
            numbers={"joint": joint + 1.0, "needed": needed, "limit": limit},
        )
