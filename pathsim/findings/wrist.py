"""Joints 4, 5 and 6 near one line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.arm.alignment import has_spherical_wrist, wrist_angle, wrist_joints
from pathsim.clearance import Span
from pathsim.findings.axis_words import axis_name, axis_speed
from pathsim.findings.finding import Evidence, Finding, Level, move_name, place_in_move
from pathsim.findings.kinds import FindingKind
from pathsim.findings.near_intervals import fastest_joint, looks, seconds_in, spans_of
from pathsim.findings.twist import TWISTS, ZONE, twists
from pathsim.model import MoveKind
from pathsim.motion import FaultKind, MoveTrack
from pathsim.units import degrees, percent


def wrist_zones(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each move that passes a wrist zone of a spherical wrist.

    On straight moves, arcs and seams alignment makes joints 4 and 6 spin: watch, or stop
    where they would have to be faster than they can on a seam, or leap. On joint moves it
    costs nothing: a note. Arms without a spherical wrist: ``pathsim.findings.singular``.
    """
    if not has_spherical_wrist(evidence.cell.arm):
        return
    for track in evidence.trajectory.tracks:
        finding = _zone(evidence, track)
        if finding is not None:
            yield finding


def _zone(evidence: Evidence, track: MoveTrack) -> Finding | None:
    cell = evidence.cell
    times = looks(track)
    angles = wrist_angle(cell.arm, track.q_at(times)[:, : cell.arm.dof])
    worst = int(np.argmin(angles))
    leaps = track.fault is not None and track.fault.kind is FaultKind.JUMP
    if angles[worst] > ZONE and not leaps:
        return None
    spans = spans_of(times, angles <= ZONE) or (Span(float(times[worst]), float(times[worst])),)
    angle = float(angles[worst])
    where = f"{place_in_move(track, spans)} of {move_name(track)}"
    if track.move.kind is MoveKind.JOINT:
        text = (
            f"Joints 4, 5 and 6 line up to {degrees(angle)} {where}. A joint move passes "
            "through that without harm; a straight one would make the wrist spin."
        )
        return _finding(Level.NOTE, text, track, float(times[worst]), spans, angle, 0.0)
    joint, share = fastest_joint(track, spans, wrist_joints(cell.arm))
    speed = axis_speed(cell, joint, share * float(cell.axes.speed[joint]))
    lasting = seconds_in(spans)
    text = f"Joints 4, 5 and 6 line up to {degrees(angle)} {where}, for {lasting:.1f} s. "
    if leaps:
        level = Level.STOP
        text += "There the wrist would have to leap to the other side: the arm cannot go on."
    elif share > 1:
        level = Level.STOP if track.move.arc_on else Level.WATCH
        text += (
            f"{axis_name(cell, joint)} would need {speed}, {share:.1f} times what it can do: "
            "the arm slows down or faults there and the wrist spins."
        )
    else:
        level = Level.WATCH
        text += f"{axis_name(cell, joint)} turns at {speed} there, {percent(share)} of what it "
        text += "can do."
    text += " " + _cure(evidence, track)
    return _finding(level, text, track, float(times[worst]), spans, angle, share)


def _cure(evidence: Evidence, track: MoveTrack) -> str:
    """Say which small turn about the wire serves, in this move's own numbers; it was tried."""
    cell = evidence.cell
    if evidence.engine is None:
        return "A small turn of the torch about its wire may help."
    twist = next(twists(evidence, track), None)
    if twist is None:
        return (
            f"No turn of the torch about its wire by up to {degrees(float(TWISTS[-1]), 0)} was "
            "found to help here; the taught points need another torch angle or place."
        )
    *first, last = (f"'{name}'" for name in twist.points)
    names = f"{', '.join(first)} and {last}" if first else last
    speed = axis_speed(cell, twist.joint, twist.share * float(cell.axes.speed[twist.joint]))
    return (
        f"Turning the torch {degrees(twist.angle, 0)} about its wire at {names}, which changes "
        f"nothing at the weld, keeps them {degrees(twist.alignment)} out of line, with "
        f"{cell.axes.names[twist.joint]} at {speed}."
    )


def _finding(
    level: Level,
    text: str,
    track: MoveTrack,
    time: float,
    spans: tuple[Span, ...],
    angle: float,
    share: float,
) -> Finding:
    numbers = {"angle": angle, "joint speed share": share}
    return Finding(
        level, FindingKind.WRIST_ALIGNED, text, track.number, time, spans, numbers=numbers
    )
