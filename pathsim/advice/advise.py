"""What can be done about each finding: proposals that were checked, best first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from pathsim.advice.cell_cures import cell_cures, not_tried
from pathsim.advice.cures import all_lifts, by_taught, cures, last_resorts
from pathsim.advice.kinds import LINED_UP, NEAR
from pathsim.advice.lift_records import NoLift
from pathsim.advice.never import blocked_at_a_weld, never
from pathsim.advice.no_point import no_point
from pathsim.advice.order import Misled, in_its_place, misled, unused_points
from pathsim.advice.planned import section_moves
from pathsim.advice.proposal import Advice, Proposal
from pathsim.advice.trial import Evaluator
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind

Progress = Callable[[str, float], None]


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
    advice = _of_program(evaluator, number)
    if advice.proposals or not advice.finding.level.at_least(Level.WATCH):
        return advice
    found, tried = cell_cures(evaluator, advice.finding)
    left = not_tried(evaluator, advice.finding)
    return replace(advice, of_cell=found, tried_on_cell=tried, not_tried_on_cell=left)


def _of_program(evaluator: Evaluator, number: int) -> Advice:
    """Return advice on a finding by changes of the program alone."""
    finding = evaluator.before.findings[number - 1]
    if not _is_for_points(evaluator, finding):
        return Advice(finding, number, (), no_point(evaluator.before, finding))
    return _about(evaluator, number, finding)


def _is_for_points(evaluator: Evaluator, finding: Finding) -> bool:
    if finding.move is None:
        return False
    if finding.kind == FindingKind.WAY_HOME:
        return _ends_elsewhere(evaluator, finding)
    kinds = (*NEAR, *LINED_UP, FindingKind.UNUSED)
    return finding.level.at_least(Level.WATCH) and finding.kind in kinds


def _ends_elsewhere(evaluator: Evaluator, finding: Finding) -> bool:
    moves = evaluator.cell.program.moves
    return finding.move == len(moves) and moves[-1].target != evaluator.cell.program.start


def _about(evaluator: Evaluator, number: int, finding: Finding) -> Advice:
    """Try all cures that fit a finding."""
    assert finding.move is not None  # noqa: S101 - _is_for_points
    track = evaluator.before.trajectory.tracks[finding.move - 1]
    is_air_hit = finding.kind in NEAR and not (track.move.arc_on or track.move.wants_contact)
    wrong = misled(evaluator.cell, track.index) if is_air_hit else None
    if wrong is not None:
        return _in_order(evaluator, number, finding, wrong)
    hopeless = never(evaluator, finding, track)
    if hopeless:
        return Advice(finding, number, (), hopeless)
    proposals: list[Proposal] = []
    tried: list[str] = []
    for words, cure in cures(evaluator, finding, track):
        found = list(cure())
        proposals += found
        if words and not found:
            tried.append(words)
    for words, cure in last_resorts(evaluator, finding, track):
        if proposals:
            break
        proposals += cure()
        if not proposals:
            tried.append(words)
    hopeless = ""
    if is_air_hit and not proposals:
        moves = section_moves(evaluator, track)
        hopeless = blocked_at_a_weld(evaluator, finding, moves)
    if finding.kind in NEAR:
        tried += [lift.words for lift in all_lifts(evaluator, track) if isinstance(lift, NoLift)]
    best_first = tuple(sorted(proposals, key=lambda p: p.rank))
    return Advice(finding, number, best_first, hopeless, tuple(tried))


def _in_order(evaluator: Evaluator, number: int, finding: Finding, wrong: Misled) -> Advice:
    """Advise on a move that goes to a weld out of order: another order, and nothing else."""
    found = list(by_taught(evaluator, finding, lambda: in_its_place(evaluator, wrong)))
    if found:
        return Advice(finding, number, tuple(sorted(found, key=lambda p: p.rank)))
    tried = tuple(f"'{name}' in its place" for name in unused_points(evaluator.cell))
    return Advice(finding, number, (), wrong.words + wrong.cure, tried)
