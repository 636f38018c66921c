"""Joints 4, 5 and 6 near one line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.arm.alignment import has_spherical_wrist, wrist_angle
from pathsim.clearance import Span
from pathsim.findings.finding import Evidence, Finding, Level, move_name, place_in_move
from pathsim.model import MoveKind
from pathsim.motion import FaultKind, MoveTrack
from pathsim.units import degrees, percent

#: Nearer to alignment than this is worth a finding, rad. Common practice says 5 to 10
#: degrees; no authority was found, so the joint speed it costs is always said beside it.
ZONE = np.radians(5.0)
_LOOKS_PER_SEGMENT = 5


def wrist_zones(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each move that passes a wrist zone.

    On straight moves, arcs and seams alignment makes joints 4 and 6 spin: watch, or stop
    where they would have to be faster than they can on a seam, or leap. On joint moves it
    costs nothing: a note.
    """
    arm = evidence.cell.arm
    if arm.dof != 6 or not has_spherical_wrist(arm):
        yield Finding(
            Level.NOTE,
            "not judged",
            "Wrist alignment was not judged: this arm's last three joints do not meet in a point.",
        )
        return
    for track in evidence.trajectory.tracks:
        finding = _zone(evidence, track)
        if finding is not None:
            yield finding


def _zone(evidence: Evidence, track: MoveTrack) -> Finding | None:
    times = np.unique(
        np.concatenate(
            [
                np.linspace(a, b, _LOOKS_PER_SEGMENT)
                for a, b in zip(track.t[:-1], track.t[1:], strict=True)
            ]
            or [track.t]
        )
    )
    angles = wrist_angle(evidence.cell.arm, track.q_at(times))
    worst = int(np.argmin(angles))
    leaps = track.fault is not None and track.fault.kind is FaultKind.JUMP
    if angles[worst] > ZONE and not leaps:
        return None
    spans = _spans(times, angles <= ZONE) or (Span(float(times[worst]), float(times[worst])),)
    angle = float(angles[worst])
    where = f"{place_in_move(track, spans)} of {move_name(track)}"
    if track.move.kind is MoveKind.JOINT:
        text = (
            f"Joints 4, 5 and 6 line up to {degrees(angle)} {where}. A joint move passes "
            "through that without harm; a straight one would make the wrist spin."
        )
        return _finding(Level.NOTE, text, track, float(times[worst]), spans, angle, 0.0)
    joint, share = _cost(track, spans)
    speed = degrees(share * float(evidence.cell.arm.speed[joint]), 0)
    text = f"Joints 4, 5 and 6 line up to {degrees(angle)} {where}. "
    if leaps:
        level = Level.STOP
        text += "There the wrist would have to leap to the other side: the arm cannot go on."
    elif share > 1:
        level = Level.STOP if track.move.arc_on else Level.WATCH
        text += (
            f"Joint {joint + 1} would need {speed}/s, {share:.1f} times what it can do: "
            "the arm slows down or faults there and the wrist spins."
        )
    else:
        level = Level.WATCH
        text += f"Joint {joint + 1} turns at {speed}/s there, {percent(share)} of what it can do."
    text += " A small twist of the wrist at the taught point before takes it out of line."
    return _finding(level, text, track, float(times[worst]), spans, angle, share)


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
    return Finding(level, "wrist aligned", text, track.number, time, spans, numbers=numbers)


def _cost(track: MoveTrack, spans: tuple[Span, ...]) -> tuple[int, float]:
    """Wrist joint (from 0) that turns nearest to its limit inside the spans, and its share."""
    inside = np.zeros(len(track.strain), dtype=bool)
    for span in spans:
        inside |= (track.t[1:] >= span.start) & (track.t[:-1] <= span.end)
    worst = track.strain[inside][:, 3:].max(axis=0, initial=0.0)
    joint = int(np.argmax(worst))
    return joint + 3, float(worst[joint])


def _spans(times: np.ndarray, inside: np.ndarray) -> tuple[Span, ...]:
    """Stretches of looks that are inside, as spans."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return tuple(
        Span(float(times[a]), float(times[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )
