"""Elbow and shoulder near their singularities, and any singularity of arms without words for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from pathsim.arm.alignment import (
    characteristic_length,
    has_spherical_wrist,
    smallest_singular_value,
)
from pathsim.arm.postures import measures
from pathsim.clearance import Span
from pathsim.findings.axis_words import axis_name, axis_speed
from pathsim.findings.finding import Evidence, Finding, Level, move_name, place_in_move
from pathsim.findings.kinds import FindingKind
from pathsim.findings.near_intervals import fastest_joint, looks, seconds_in, spans_of
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array
from pathsim.units import degrees, millimetres, percent

#: Zones that are worth a word. No authority was found for any of them; the joint speed that
#: the move really needs is always said beside them, and it alone decides the level.
_ELBOW = np.radians(5.0)
_SHOULDER = 0.04  # m
_SINGULAR_VALUE = 0.05  # about what a wrist 5 degrees from alignment has


def singular_zones(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each zone that a straight move, arc or seam passes.

    Joint moves pass singularities without harm and are left alone.
    """
    arm = evidence.cell.arm
    for track in evidence.trajectory.tracks:
        if track.move.kind is MoveKind.JOINT or len(track.t) < 2:
            continue
        times = looks(track)
        q = track.q_at(times)[:, : arm.dof]
        if has_spherical_wrist(arm):
            found = measures(arm, q)
            yield from _zone(
                evidence, track, times, np.abs(found.elbow), _ELBOW, FindingKind.ELBOW_STRETCHED,
                lambda worst: f"The arm is stretched or folded to {degrees(worst)} of straight",
            )  # fmt: skip
            yield from _zone(
                evidence, track, times, np.abs(found.shoulder), _SHOULDER,
                FindingKind.WRIST_OVER_SHOULDER,
                lambda worst: (
                    f"The centre of the wrist passes {millimetres(worst, 0)} beside the axis of "
                    "joint 1"
                ),
            )  # fmt: skip
        else:
            yield from _by_singular_value(evidence, track, times, q)


def _by_singular_value(
    evidence: Evidence, track: MoveTrack, times: Array, q: Array
) -> Iterator[Finding]:
    arm = evidence.cell.arm
    length = characteristic_length(arm)
    values = smallest_singular_value(arm, q, length)
    yield from _zone(
        evidence, track, times, values, _SINGULAR_VALUE, FindingKind.NEAR_SINGULAR,
        lambda worst: (
            f"Some joints line up: the smallest singular value falls to {worst:.3f} (lengths "
            f"divided by {millimetres(length, 0)}; under {_SINGULAR_VALUE} is said)"
        ),
    )  # fmt: skip


def _zone(
    evidence: Evidence,
    track: MoveTrack,
    times: Array,
    values: Array,
    zone: float,
    kind: FindingKind,
    say: Callable[[float], str],
) -> Iterator[Finding]:
    worst = int(np.argmin(values))
    if values[worst] > zone:
        return
    cell = evidence.cell
    spans = spans_of(times, values <= zone) or (Span(float(times[worst]), float(times[worst])),)
    joint, share = fastest_joint(track, spans, tuple(range(cell.axes.count)))
    speed = axis_speed(cell, joint, share * float(cell.axes.speed[joint]))
    text = (
        f"{say(float(values[worst]))} {place_in_move(track, spans)} of {move_name(track)}, for "
        f"{seconds_in(spans):.1f} s. "
    )
    if share > 1:
        level = Level.STOP if track.move.arc_on else Level.WATCH
        text += f"{axis_name(cell, joint)} would need {speed}, {share:.1f} times what it can do."
    else:
        level = Level.NOTE
        text += f"{axis_name(cell, joint)} moves at {speed}, {percent(share)} of what it can do."
    yield Finding(
        level,
        kind,
        text,
        track.number,
        float(times[worst]),
        spans,
        numbers={"measure": float(values[worst]), "joint speed share": share},
    )
