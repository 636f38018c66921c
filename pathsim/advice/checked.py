"""A change becomes a proposal only by the check of the whole program."""

from __future__ import annotations

from pathsim.advice.change import Change
from pathsim.advice.new_points import about_new_points
from pathsim.advice.no_point import is_no_matter_of_points
from pathsim.advice.proposal import Proposal
from pathsim.advice.trial import Evaluator, runs_the_same_welds
from pathsim.findings import Finding, Level


def checked(
    evaluator: Evaluator,
    kind: str,
    text: str,
    change: Change,
    finding: Finding,
    evidence: tuple[str, ...] = (),
    off_habit: float = 0.0,
) -> Proposal | None:
    """Check the whole program with a change; None when it cures nothing or worsens anything."""
    after = evaluator.full(change)
    if evaluator.worsened(change, after):
        return None
    if not runs_the_same_welds(evaluator.before, after):
        return None
    # What no point in the air cures may go with a change, and is yet not what the change is for;
    # and a hit that is told with a doubt is no finding of its own.
    listed = {id(f) for f in evaluator.before.findings}
    cures = [f for f in evaluator.cured(change, after)
             if id(f) in listed and not is_no_matter_of_points(f)]  # fmt: skip
    if finding.level is Level.NOTE:
        if any(f.text == finding.text for f in after.findings):
            return None
        cures = [*cures, finding]
    if finding not in cures:
        return None
    points = about_new_points(evaluator.cell, change)
    notes = [f"New with it is this note: {f.text}" for f in evaluator.new_notes(change, after)]
    return Proposal(kind, text, change, tuple(cures), evaluator.before, after,
                    (*evidence, *points, *notes), off_habit)  # fmt: skip
