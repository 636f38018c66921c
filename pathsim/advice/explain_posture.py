"""Why a move cannot be run as asked, or runs hard: limits, speeds, reach, singular postures."""

from __future__ import annotations

import numpy as np

from pathsim.findings import Finding, Level
from pathsim.findings.axis_words import axis_name, axis_speed, axis_value
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell, MoveKind
from pathsim.motion import FaultKind, MoveTrack
from pathsim.transforms import Array
from pathsim.units import millimetres, percent

#: What each zone is, for who has never seen it.
_ZONES = {
    FindingKind.ELBOW_STRETCHED: "Upper arm and forearm lie nearly in one line there.",
    FindingKind.WRIST_OVER_SHOULDER: (
        "The wrist is nearly above or below the axis of joint 1 there."
    ),
    FindingKind.NEAR_SINGULAR: "Some of the joints there do nearly the same.",
}


def about_posture(cell: Cell, finding: Finding, track: MoveTrack) -> list[str]:
    """Return sentences on a finding about joints or reach; empty for other kinds."""
    if finding.kind == FindingKind.JOINT_LIMIT:
        return _about_limit(cell, finding, track)
    if finding.kind == FindingKind.JOINT_SPEED:
        return _about_speed(cell, finding, track)
    if finding.kind in (FindingKind.OUT_OF_REACH, FindingKind.JOINT_LEAP):
        return _about_end(cell, track)
    if finding.kind in _ZONES:
        return _about_zone(cell, finding, track)
    return []


def _axis(finding: Finding) -> int:
    return int(finding.numbers["joint"]) - 1


def _about_limit(cell: Cell, finding: Finding, track: MoveTrack) -> list[str]:
    axis, axes = _axis(finding), cell.axes
    low, high = float(axes.lower[axis]), float(axes.upper[axis])
    start, end = float(track.q[0, axis]), float(track.q[-1, axis])
    word = "slides" if axes.prismatic[axis] else "turns"
    value, limit = finding.numbers["value"], finding.numbers["limit"]
    apart = axis_value(cell, axis, abs(value - limit))
    is_past = finding.level is Level.STOP
    reach = f"{axis_value(cell, axis, low)} to {axis_value(cell, axis, high)}"
    where = f"{axis_name(cell, axis)} may be anywhere from {reach}."
    if axis < cell.arm.dof and cell.arm.has_moving_limits(axis):
        where = f"{axis_name(cell, axis)} may be from {reach} at most; another joint decides, too."
    return [
        where,
        f"In this move it {word} from {axis_value(cell, axis, start)} to "
        f"{axis_value(cell, axis, end)}.",
        f"At its farthest it is {apart} past the limit."
        if is_past
        else f"At its farthest {apart} are left to the limit.",
    ]


def _about_speed(cell: Cell, finding: Finding, track: MoveTrack) -> list[str]:
    axis = _axis(finding)
    needed, limit = finding.numbers["needed"], finding.numbers["limit"]
    said = []
    if track.move.kind is not MoveKind.JOINT:
        said.append(
            f"The tip is asked to travel at {track.move.speed * 1e3:.0f} mm/s, and the joints have "
            "to follow it."
        )
    said.append(
        f"For that {cell.axes.names[axis]} would need {axis_speed(cell, axis, needed)}, "
        f"{needed / limit:.2f} times the {axis_speed(cell, axis, limit)} that it has."
    )
    return said


def _about_end(cell: Cell, track: MoveTrack) -> list[str]:
    """Say where a move breaks off, and how far that is from where it should go."""
    if track.fault is None or track.fault.kind is FaultKind.NO_START:
        return []
    said = [f"The move could be worked out for {percent(track.fault.share)} of its way."]
    goal = _place(cell, track.move.target)
    if goal is not None:
        tip = cell.tool_poses(track.q[-1:])[0, :3, 3]
        left = millimetres(float(np.linalg.norm(goal - tip)), 0)
        said.append(f"It breaks off {left} before '{track.move.target}'.")
    return said


def _place(cell: Cell, name: str) -> Array | None:
    """Where the tip is at a taught point, ``(3,)`` in the world; None where a rail decides."""
    point = cell.points[name]
    if point.q is not None:
        return np.asarray(cell.tool_poses(point.q[None])[0, :3, 3])
    if point.T_base_tcp is None or cell.arm.has_rail:
        return None
    return np.asarray((cell.T_world_base @ point.T_base_tcp)[:3, 3])


def _about_zone(cell: Cell, finding: Finding, track: MoveTrack) -> list[str]:
    said = [_ZONES[finding.kind]]
    if len(track.speed_ratio) == 0 or finding.time is None:
        return said
    segment = int(
        np.clip(np.searchsorted(track.t, finding.time) - 1, 0, len(track.speed_ratio) - 1)
    )
    axis = int(np.argmax(track.speed_ratio[segment]))
    share = float(track.speed_ratio[segment, axis])
    said.append(
        f"At its worst, {percent(track.share(finding.time))} of the move and {finding.time:.1f} s "
        f"after the program's start, {cell.axes.names[axis]} works hardest: {percent(share)} of "
        "the speed that it has."
    )
    return said
