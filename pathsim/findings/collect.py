"""All findings in the order in which a person should read them."""

from __future__ import annotations

import itertools

from pathsim.findings.cables import cables
from pathsim.findings.contact import contacts
from pathsim.findings.finding import Evidence, Finding
from pathsim.findings.joints import joint_limits, joint_speeds
from pathsim.findings.near_hit import near_hits
from pathsim.findings.planning import planning_notes
from pathsim.findings.process_notes import process_notes
from pathsim.findings.program_checks import program_checks
from pathsim.findings.reach import reach_faults
from pathsim.findings.room import room_for_weaves
from pathsim.findings.rounding import roundings
from pathsim.findings.seams_off import seams_off
from pathsim.findings.singular import singular_zones
from pathsim.findings.unchecked import unchecked
from pathsim.findings.weave_truth import weave_descriptions, weave_truth
from pathsim.findings.wrist import wrist_zones
from pathsim.findings.wrist_room import wrist_room

_CONCERNS = (
    seams_off,
    unchecked,
    wrist_room,
    cables,
    reach_faults,
    contacts,
    joint_limits,
    near_hits,
    wrist_zones,
    singular_zones,
    joint_speeds,
    planning_notes,
    roundings,
    weave_truth,
    room_for_weaves,
    program_checks,
)


def collect(evidence: Evidence) -> tuple[Finding, ...]:
    """Gravest first, then in the order of the program."""
    found = list(itertools.chain.from_iterable(concern(evidence) for concern in _CONCERNS))

    def order(finding: Finding) -> tuple[int, int, float]:
        number = 0 if finding.move is None else finding.move
        return (finding.level.rank, number, finding.time if finding.time is not None else -1.0)

    return tuple(sorted(found, key=order))


_DESCRIPTIONS = (weave_descriptions, process_notes)


def describe_seams(evidence: Evidence) -> tuple[Finding, ...]:
    """Say what each seam is, in the order of the program: numbers, no verdicts."""
    found = list(itertools.chain.from_iterable(say(evidence) for say in _DESCRIPTIONS))
    return tuple(sorted(found, key=lambda f: f.move or 0))
