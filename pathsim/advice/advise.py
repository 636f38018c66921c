"""What can be done about each finding: proposals that were checked, best first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from pathsim.advice.change import Change, together
from pathsim.advice.lifts import NoLift, RetractCandidate, lifts
from pathsim.advice.no_point import fitting_amplitude_in_words, is_no_matter_of_points, no_point
from pathsim.advice.order import (
    Misled,
    Taught,
    by_taught_points,
    in_its_place,
    misled,
    unused_points,
)
from pathsim.advice.proposal import Advice, Proposal
from pathsim.advice.sites import sites
from pathsim.advice.trial import Evaluator, runs_the_same_welds
from pathsim.advice.turns import Turn, other_postures, turned_about_wire
from pathsim.advice.via import vias
from pathsim.arm.alignment import has_spherical_wrist, wrist_angle, wrist_joints
from pathsim.check import CheckResult
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.twist import TWISTS, air_ends, twists
from pathsim.model import Cell, Move, MoveKind
from pathsim.motion import MoveTrack
from pathsim.units import degrees, guaranteed_millimetres, millimetres, percent

Progress = Callable[[str, float], None]
#: At most so many twists and other joint values that clear are checked wholly for one finding.
_MOST_TURNS = 24
#: Order of several changes to one move; the others are between these.
_ORDER = {"retract": 0, "approach": 2}
_NEAR = (FindingKind.CONTACT, FindingKind.NEAR_HIT)
_LINED_UP = (
    FindingKind.WRIST_ALIGNED,
    FindingKind.ELBOW_STRETCHED,
    FindingKind.TWO_WAYS,
    FindingKind.WRIST_OVER_SHOULDER,
    FindingKind.NEAR_SINGULAR,
)


def advise(evaluator: Evaluator, progress: Progress | None = None) -> tuple[Advice, ...]:
    """Return advice for every stop and watch finding, and the note that a program ends elsewhere.

    All proposals were checked with the whole program and worsen nothing. Of findings that no
    point in the air cures it is said what to check instead.
    """
    wanted = [
        number
        for number, finding in enumerate(evaluator.before.findings, start=1)
        if finding.level.at_least(Level.WATCH) or _is_for_points(evaluator, finding)
    ]
    advice: list[Advice] = []
    for count, number in enumerate(wanted):
        if progress is not None:
            progress(f"finding {number}", count / len(wanted))
        advice.append(advise_on(evaluator, number))
    if progress is not None:
        progress("done", 1.0)
    return tuple(advice)


def advise_on(evaluator: Evaluator, number: int) -> Advice:
    """Return advice for the finding with a number from 1."""
    finding = evaluator.before.findings[number - 1]
    if not _is_for_points(evaluator, finding):
        return Advice(finding, number, (), no_point(evaluator.before, finding))
    return _about(evaluator, number, finding)


def that_go_together(
    evaluator: Evaluator, proposals: list[Proposal]
) -> tuple[list[Proposal], Change, list[Proposal]]:
    """Return the proposals that can all be made at once, as one change, and those that cannot.

    First ones come first; the whole program is checked with each one more. The change is empty
    when there are none.
    """
    chosen: list[Proposal] = []
    left: list[Proposal] = []
    change = Change(evaluator.cell)
    for proposal in proposals:
        # A retract goes in before what leads on to the next weld.
        several = sorted([*chosen, proposal], key=lambda p: _ORDER.get(p.kind, 1))
        more = together(evaluator.cell, [p.change for p in several])
        if more is None or evaluator.harm(more) or not _all_cured(evaluator, several, more):
            left.append(proposal)
        else:
            chosen, change = [*chosen, proposal], more
    return chosen, change, left


def _all_cured(evaluator: Evaluator, proposals: list[Proposal], change: Change) -> bool:
    """Tell whether all that the proposals cure one by one is cured by them as one change."""
    gone = evaluator.cured(change, evaluator.full(change))
    wanted = [f for p in proposals for f in p.cures if f.level.at_least(Level.WATCH)]
    return all(finding in gone for finding in wanted)


def best_first(advice: tuple[Advice, ...]) -> list[Proposal]:
    """Return the best proposal of each finding; one that cures several findings stands once."""
    chosen: list[Proposal] = []
    for one in advice:
        if one.proposals and not any(one.finding in p.cures for p in chosen):
            chosen.append(one.proposals[0])
    return chosen


def _is_for_points(evaluator: Evaluator, finding: Finding) -> bool:
    if finding.move is None:
        return False
    if finding.kind == FindingKind.WAY_HOME:
        return _ends_elsewhere(evaluator, finding)
    kinds = (*_NEAR, *_LINED_UP, FindingKind.UNUSED)
    return finding.level.at_least(Level.WATCH) and finding.kind in kinds


def _ends_elsewhere(evaluator: Evaluator, finding: Finding) -> bool:
    moves = evaluator.cell.program.moves
    return finding.move == len(moves) and moves[-1].target != evaluator.cell.program.start


def _about(evaluator: Evaluator, number: int, finding: Finding) -> Advice:
    """Try all cures that fit a finding."""
    assert finding.move is not None  # noqa: S101 - _is_for_points
    track = evaluator.before.trajectory.tracks[finding.move - 1]
    is_air_hit = finding.kind in _NEAR and not track.move.arc_on
    wrong = misled(evaluator.cell, track.index) if is_air_hit else None
    if wrong is not None:
        return _in_order(evaluator, number, finding, wrong)
    never = _never(evaluator, finding, track)
    if never:
        return Advice(finding, number, (), never)
    proposals: list[Proposal] = []
    tried: list[str] = []
    for words, cure in _cures(evaluator, finding, track):
        found = list(cure())
        proposals += found
        if words and not found:
            tried.append(words)
    if finding.kind in _NEAR:
        tried += [lift.words for lift in _all_lifts(evaluator, track) if isinstance(lift, NoLift)]
    return Advice(finding, number, tuple(sorted(proposals, key=lambda p: p.rank)), "", tuple(tried))


def _in_order(evaluator: Evaluator, number: int, finding: Finding, wrong: Misled) -> Advice:
    """Advise on a move that goes to a weld out of order: another order, and nothing else."""
    found = list(_by_taught(evaluator, finding, lambda: in_its_place(evaluator, wrong)))
    if found:
        return Advice(finding, number, tuple(sorted(found, key=lambda p: p.rank)))
    tried = tuple(f"'{name}' in its place" for name in unused_points(evaluator.cell))
    return Advice(finding, number, (), wrong.words + wrong.cure, tried)


def _by_taught(
    evaluator: Evaluator, finding: Finding, changes: Callable[[], Iterator[Taught]]
) -> Iterator[Proposal]:
    """Check changes that use points which are taught already."""
    for taught in changes():
        if not evaluator.try_out(taught.change).is_clear:
            continue
        found = _checked(evaluator, taught.kind, taught.words, taught.change, finding)
        if found is not None:
            yield found


def _cures(
    evaluator: Evaluator, finding: Finding, track: MoveTrack
) -> Iterator[tuple[str, Callable[[], Iterator[Proposal]]]]:
    """Yield what may cure a finding, with how to try it; only what there is to try.

    The words are said when it did not serve; none where the search says more itself.
    """
    ends = " and ".join(f"'{name}'" for name, _ in air_ends(evaluator.cell, track))
    if finding.kind == FindingKind.WAY_HOME:
        yield "going home at the end", lambda: _home(evaluator, finding, track)
        return
    if finding.kind in _LINED_UP:
        if ends:
            most = degrees(float(TWISTS[-1]), 0)
            words = f"turning the torch at {ends} up to {most} about its wire"
            yield words, lambda: _turned(evaluator, finding, track, turned_about_wire)
            yield (
                f"other joint values at {ends}",
                lambda: _turned(evaluator, finding, track, other_postures),
            )
        return
    if track.move.kind is not MoveKind.ARC and unused_points(evaluator.cell):
        # Taught and left out: where that is what was found, nothing else cures it.
        words = "points that are taught and not used"
        yield (
            words,
            lambda: _by_taught(evaluator, finding, lambda: by_taught_points(evaluator, track)),
        )
    if finding.kind == FindingKind.UNUSED:
        return
    lifted: list[Proposal] = []

    def higher() -> Iterator[Proposal]:
        lifted.extend(_lifted(evaluator, finding, track))
        yield from lifted

    if any(True for _ in sites(evaluator, track)):
        yield "", higher
    if track.move.kind is MoveKind.JOINT:
        if not lifted:  # by now it is known: this generator goes on after the cure before was tried
            yield "points on the way", lambda: _by_the_way(evaluator, finding, track)
        if ends:
            yield (
                f"other joint values at {ends}",
                lambda: _turned(evaluator, finding, track, other_postures),
            )


def _lifted(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> Iterator[Proposal]:
    for lift in _all_lifts(evaluator, track):
        if isinstance(lift, NoLift):
            continue
        found = _checked(evaluator, lift.kind, lift.words, lift.change, finding, lift.evidence)
        if found is not None:
            yield found


def _all_lifts(evaluator: Evaluator, track: MoveTrack) -> list[RetractCandidate | NoLift]:
    return evaluator.once(("lifts", track.index), lambda: lifts(evaluator, track))


def _by_the_way(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> Iterator[Proposal]:
    for via in evaluator.once(("vias", track.index), lambda: vias(evaluator, track)):
        found = _checked(evaluator, "via", via.words, via.change, finding)
        if found is not None:
            yield found


def _turned(
    evaluator: Evaluator,
    finding: Finding,
    track: MoveTrack,
    kinds: Callable[[Evaluator, MoveTrack], Iterator[Turn]],
) -> Iterator[Proposal]:
    """Check turns until one serves: they come smallest first."""
    checked = 0
    for turn in evaluator.once((kinds, track.index), lambda: kinds(evaluator, track)):
        if not evaluator.try_out(turn.change).is_clear:
            continue
        found = _checked(evaluator, turn.kind, turn.words, turn.change, finding)
        if found is not None and finding.kind in _LINED_UP:
            need = _wrist_need(evaluator.cell, found.after.trajectory.tracks[track.index])
            if need > _wrist_need(evaluator.cell, track):  # out of line, and harder on the joints
                found = None
        if found is not None and finding.kind in _LINED_UP:
            numbers = _wrist_in_numbers(evaluator, track, found.after)
            found = replace(found, evidence=(*numbers, *found.evidence))
        if found is not None:
            yield found
            return
        checked += 1
        if checked >= _MOST_TURNS:
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


def _home(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> Iterator[Proposal]:
    """Go to the very point where the program starts."""
    program = evaluator.cell.program
    joints = [move.speed for move in program.moves if move.kind is MoveKind.JOINT]
    speed = joints[-1] if joints else 0.25
    move = Move(MoveKind.JOINT, program.start, speed)
    change = Change(evaluator.cell, {}, ((track.index + 1, move),))
    text = f"Add a last joint move to '{program.start}', the point where the program starts."
    found = _checked(evaluator, "home", text, change, finding)
    if found is not None:
        yield found


def _checked(
    evaluator: Evaluator,
    kind: str,
    text: str,
    change: Change,
    finding: Finding,
    evidence: tuple[str, ...] = (),
) -> Proposal | None:
    """Check the whole program with a change; None when it cures nothing or worsens anything."""
    after = evaluator.full(change)
    if evaluator.worsened(change, after):
        return None
    if not runs_the_same_welds(evaluator.before, after):
        return None
    # What no point in the air cures may go with a change, and is yet not what the change is for.
    cures = [f for f in evaluator.cured(change, after) if not is_no_matter_of_points(f)]
    if finding.level is Level.NOTE:
        if any(f.text == finding.text for f in after.findings):
            return None
        cures = [*cures, finding]
    if finding not in cures:
        return None
    notes = [f"New with it is this note: {f.text}" for f in evaluator.new_notes(change, after)]
    return Proposal(kind, text, change, tuple(cures), evaluator.before, after, (*evidence, *notes))


def _never(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> str:
    """Say why no point can cure a finding; empty when one might."""
    if finding.kind in _LINED_UP and track.move.arc_on:
        return f"It is on the seam itself; no air point helps. {_at_the_weld(evaluator, track)}"
    if finding.kind not in _NEAR:
        return ""
    if track.move.arc_on:
        reduce = fitting_amplitude_in_words(evaluator.before, track.number)
        instead = reduce or "Change torch angle, weave or fixture."
        return (
            "It is on the seam itself; no air point helps. "
            f"{instead}{_or_the_cable(evaluator, finding)}"
        )
    return _taught_too_near(evaluator, finding, track)


def _at_the_weld(evaluator: Evaluator, track: MoveTrack) -> str:
    """Say what may be taught otherwise at a weld's own points; it is said, and never proposed."""
    if has_spherical_wrist(evaluator.cell.arm):
        twist = next(twists(evaluator.evidence, track), None)
        if twist is not None:
            names = " and ".join(f"'{name}'" for name in twist.points)
            return f"Turn the torch {degrees(twist.angle, 0)} about its wire at {names}."
    return "Change torch angle, or the place of the part."


def _taught_too_near(evaluator: Evaluator, finding: Finding, track: MoveTrack) -> str:
    """Say whether the pair is too near already at a weld point at the move's end."""
    tracks = evaluator.before.trajectory.tracks
    pairs = [p for p in evaluator.before.moves[track.index].noteworthy
             if (p.piece, p.body) == (finding.piece, finding.body)]  # fmt: skip
    ends = []
    if track.index > 0 and tracks[track.index - 1].move.arc_on:
        ends.append((float(track.t[0]), track.start))
    if track.index + 1 < len(tracks) and tracks[track.index + 1].move.arc_on:
        ends.append((float(track.t[-1]), track.move.target))
    for time, name in ends:
        for pair in pairs:
            here = pair.stretch.start <= time <= pair.stretch.end
            at_end = any(np.isclose([s.start, s.end], time, atol=1e-6).any() for s in pair.spans)
            if not (here and at_end and pair.clearance.lower < pair.margin):
                continue
            if abs(pair.clearance.time - time) > 1e-6 and not pair.clearance.touches:
                continue
            near = f"touches the {pair.body}"
            if not pair.clearance.touches:
                kept = guaranteed_millimetres(pair.clearance.lower)
                asked = millimetres(pair.margin)
                near = f"is {kept} from the {pair.body}, where {asked} is asked for"
            return (
                f"Already at '{name}' the {pair.piece} {near}; no air point helps. "
                "Change the torch angle there, the clamp, or the margin."
                f"{_or_the_cable(evaluator, finding)}"
            )
    return ""


def _or_the_cable(evaluator: Evaluator, finding: Finding) -> str:
    """Say that a cable can be tied otherwise, where the finding is about one."""
    is_cable = any(cable.name == finding.piece for cable in evaluator.cell.cables)
    return " Or the cable is tied closer: then change its points or its slack." if is_cable else ""
