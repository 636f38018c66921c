"""Which cures fit which finding, each with how to try it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pathsim.advice.change import Change
from pathsim.advice.checked import checked
from pathsim.advice.kinds import LINED_UP, NEAR
from pathsim.advice.lift_records import NoLift, RetractCandidate
from pathsim.advice.lifts import lifts
from pathsim.advice.order import Taught, by_taught_points, unused_points
from pathsim.advice.other_kind import (
    OTHER_KINDS,
    another_kind,
    is_beside_weld,
    of_another_kind,
)
from pathsim.advice.planned import can_be_planned, planned, section_moves
from pathsim.advice.proposal import Proposal
from pathsim.advice.sites import sites
from pathsim.advice.trial import Evaluator
from pathsim.advice.turns import other_postures, turned_about_wire
from pathsim.advice.wrist_cures import turned
from pathsim.findings import Finding
from pathsim.findings.kinds import FindingKind
from pathsim.findings.twist import TWISTS, air_ends
from pathsim.model import Move, MoveKind
from pathsim.motion import MoveTrack
from pathsim.units import degrees


def by_taught(
    evaluator: Evaluator, finding: Finding, changes: Callable[[], Iterator[Taught]]
) -> Iterator[Proposal]:
    """Check changes that use points which are taught already."""
    for taught in changes():
        if not evaluator.try_out(taught.change).is_clear:
            continue
        found = checked(evaluator, taught.kind, taught.words, taught.change, finding)
        if found is not None:
            yield found


def cures(
    evaluator: Evaluator, finding: Finding, track: MoveTrack
) -> Iterator[tuple[str, Callable[[], Iterator[Proposal]]]]:
    """Yield what may cure a finding, with how to try it; only what there is to try.

    The words are said when it did not serve; none where the search says more itself.
    """
    ends = " and ".join(f"'{name}'" for name, _ in air_ends(evaluator.cell, track))
    if finding.kind == FindingKind.WAY_HOME:
        yield "going home at the end", lambda: _home(evaluator, finding, track)
        return
    if finding.kind in LINED_UP:
        if ends:
            most = degrees(float(TWISTS[-1]), 0)
            words = f"turning the torch at {ends} up to {most} about its wire"
            yield words, lambda: turned(evaluator, finding, track, turned_about_wire)
            yield (
                f"other joint values at {ends}",
                lambda: turned(evaluator, finding, track, other_postures),
            )
        return
    if track.move.kind is not MoveKind.ARC and unused_points(evaluator.cell):
        # Taught and left out: where that is what was found, nothing else cures it.
        words = "points that are taught and not used"
        yield (
            words,
            lambda: by_taught(evaluator, finding, lambda: by_taught_points(evaluator, track)),
        )
    if finding.kind == FindingKind.UNUSED:
        return
    if any(True for _ in sites(evaluator, track)):
        yield "", lambda: _lifted(evaluator, finding, track)
    if can_be_planned(evaluator, track):
        words = "retract, points on the way and approach planned together"
        yield words, lambda: _by_section(evaluator, finding, track)


def last_resorts(
    evaluator: Evaluator, finding: Finding, track: MoveTrack
) -> Iterator[tuple[str, Callable[[], Iterator[Proposal]]]]:
    """Yield what is tried only where no cure serves, as ``cures`` does."""
    ends = " and ".join(f"'{name}'" for name, _ in air_ends(evaluator.cell, track))
    if finding.kind in NEAR and track.move.kind is MoveKind.JOINT and ends:
        yield (
            f"other joint values at {ends}",
            lambda: turned(evaluator, finding, track, other_postures),
        )
    kind = another_kind(track, beside_weld=is_beside_weld(evaluator, track))
    if finding.kind in (*NEAR, *LINED_UP) and kind is not None:
        yield (
            f"a {OTHER_KINDS[kind]} move instead",
            lambda: by_taught(evaluator, finding, lambda: of_another_kind(evaluator, track)),
        )


def _lifted(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> Iterator[Proposal]:
    for lift in all_lifts(evaluator, track):
        if isinstance(lift, NoLift):
            continue
        found = checked(evaluator, lift.kind, lift.words, lift.change, finding, lift.evidence,
                        lift.off_habit)  # fmt: skip
        if found is not None:
            yield found


def all_lifts(evaluator: Evaluator, track: MoveTrack) -> list[RetractCandidate | NoLift]:
    """Return what ``lifts`` finds for a move, looked for once."""
    return evaluator.once(("lifts", track.index), lambda: lifts(evaluator, track))


def _by_section(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> Iterator[Proposal]:
    """Check what was planned for the whole air section."""
    section = section_moves(evaluator, track)
    for plan in evaluator.once(("planned", section), lambda: planned(evaluator, track)):
        found = checked(evaluator, plan.kind, plan.words, plan.change, finding, plan.evidence,
                        plan.off_habit)  # fmt: skip
        if found is not None:
            yield found


def _home(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> Iterator[Proposal]:
    """Go to the very point where the program starts."""
    program = evaluator.cell.program
    joints = [move.speed for move in program.moves if move.kind is MoveKind.JOINT]
    speed = joints[-1] if joints else 0.25
    move = Move(MoveKind.JOINT, program.start, speed)
    change = Change(evaluator.cell, {}, ((track.index + 1, move),))
    text = f"Add a last joint move to '{program.start}', the point where the program starts."
    found = checked(evaluator, "home", text, change, finding)
    if found is not None:
        yield found
