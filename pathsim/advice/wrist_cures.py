"""Cures for a wrist that lines up, and other joint values: checked, smallest first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from pathsim.advice.checked import checked
from pathsim.advice.kinds import LINED_UP
from pathsim.advice.proposal import Proposal
from pathsim.advice.trial import Evaluator
from pathsim.advice.turns import Turn
from pathsim.arm.alignment import has_spherical_wrist, wrist_angle, wrist_joints
from pathsim.check import CheckResult
from pathsim.findings import Finding
from pathsim.model import Cell
from pathsim.motion import MoveTrack
from pathsim.units import degrees, percent

#: At most so many twists and other joint values that clear are checked wholly for one finding.
_MOST_TURNS = 24


def turned(
    evaluator: Evaluator,
    finding: Finding,
    track: MoveTrack,
    kinds: Callable[[Evaluator, MoveTrack], Iterator[Turn]],
) -> Iterator[Proposal]:
    """Check turns until one serves: they come smallest first."""
    looked = 0
    for turn in evaluator.once((kinds, track.index), lambda: kinds(evaluator, track)):
        if not evaluator.try_out(turn.change).is_clear:
            continue
        found = checked(evaluator, turn.kind, turn.words, turn.change, finding)
        if found is not None and finding.kind in LINED_UP:
            need = _wrist_need(evaluator.cell, found.after.trajectory.tracks[track.index])
            if need > _wrist_need(evaluator.cell, track):  # out of line, and harder on the joints
                found = None
        if found is not None and finding.kind in LINED_UP:
            numbers = _wrist_in_numbers(evaluator, track, found.after)
            found = replace(found, evidence=(*numbers, *found.evidence))
        if found is not None:
            yield found
            return
        looked += 1
        if looked >= _MOST_TURNS:
            return


def _wrist_in_numbers(
    evaluator: Evaluator, track: MoveTrack, after: CheckResult
) -> tuple[str, ...]:
    """Say how far the wrist is out of line before and after, and what its joints need."""
    arm = evaluator.cell.arm
    if not has_spherical_wrist(arm):
        return ()
    new = after.trajectory.tracks[track.index]
    angles = [degrees(float(wrist_angle(arm, t.q[:, : arm.dof]).min())) for t in (track, new)]
    needs = [percent(_wrist_need(evaluator.cell, t)) for t in (track, new)]
    return (
        f"Joints 4 and 6 come to {angles[0]} from one line before, {angles[1]} after.",
        f"The fastest wrist joint needs {needs[0]} of what it can do before, {needs[1]} after.",
    )


def _wrist_need(cell: Cell, track: MoveTrack) -> float:
    """Return the largest share of its speed that a wrist joint needs on a move; 0 without one."""
    if not has_spherical_wrist(cell.arm):
        return 0.0
    return float(track.speed_ratio[:, list(wrist_joints(cell.arm))].max(initial=0.0))
