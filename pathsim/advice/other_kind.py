"""Another kind of move instead of one that meets something: joint for straight, or the other way.

Asked where no point helps. Beside a weld a straight leg stays straight.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from pathsim.advice.change import Change
from pathsim.advice.order import Taught
from pathsim.advice.section import JOINT_SPEED
from pathsim.advice.sites import straight_speed
from pathsim.advice.trial import Evaluator
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.units import percent, quantity

#: What the kinds are called.
OTHER_KINDS = {MoveKind.LINEAR: "straight", MoveKind.JOINT: "joint"}


def another_kind(track: MoveTrack, *, beside_weld: bool) -> MoveKind | None:
    """Return the kind of move that may go between the same two points instead; None for none."""
    if track.move.is_fixed or track.start == track.move.target:
        return None
    if track.move.kind is MoveKind.JOINT:
        return MoveKind.LINEAR
    return MoveKind.JOINT if track.move.kind is MoveKind.LINEAR and not beside_weld else None


def of_another_kind(evaluator: Evaluator, track: MoveTrack) -> Iterator[Taught]:
    """Yield the change that makes an air move the other kind."""
    tracks, at = evaluator.before.trajectory.tracks, track.index
    kind = another_kind(track, beside_weld=is_beside_weld(evaluator, track))
    if kind is None:
        return
    move = replace(evaluator.cell.program.moves[at], kind=kind, via=None, line=None)
    if kind is MoveKind.LINEAR:
        move = replace(move, speed=straight_speed(tracks))
        words = f"a straight move at {quantity(move.speed, 'speed')} in place of the joint move"
    else:
        shares = [t.move.speed for t in tracks if t.move.kind is MoveKind.JOINT]
        move = replace(move, speed=shares[-1] if shares else JOINT_SPEED, rounding=0.0)
        words = f"a joint move at {percent(move.speed)} in place of the straight move"
    change = Change(evaluator.cell, {}, (), ((at, move),))
    text = f"Go to '{move.target}' in move {track.number} by {words}."
    yield Taught(OTHER_KINDS[kind], text, change)


def is_beside_weld(evaluator: Evaluator, track: MoveTrack) -> bool:
    """Tell whether a seam ends or starts where a move does."""
    tracks = evaluator.before.trajectory.tracks
    beside = (track.index - 1, track.index + 1)
    return any(0 <= k < len(tracks) and tracks[k].move.at_work for k in beside)
