"""All findings in the order in which a person should read them."""

from __future__ import annotations

import itertools

from pathsim.findings.bead_reach import bead_reach
from pathsim.findings.body_sizes import body_doubts
from pathsim.findings.cables import cables
from pathsim.findings.contact import contacts
from pathsim.findings.doubt import grouped
from pathsim.findings.finding import Evidence, Finding
from pathsim.findings.held_together import held_together
from pathsim.findings.joints import joint_limits, joint_speeds
from pathsim.findings.kinds import FindingKind
from pathsim.findings.near_hit import near_hits
from pathsim.findings.passes import passes
from pathsim.findings.pauses import pauses
from pathsim.findings.planning import planning_notes
from pathsim.findings.postures_picked import postures_picked
from pathsim.findings.process_notes import process_notes
from pathsim.findings.program_checks import program_checks
from pathsim.findings.reach import reach_faults
from pathsim.findings.repeats import repeats
from pathsim.findings.reserve_notes import reserve_notes
from pathsim.findings.room import room_for_weaves
from pathsim.findings.rounding import roundings
from pathsim.findings.seams_off import seams_off
from pathsim.findings.singular import singular_zones
from pathsim.findings.standing import standing
from pathsim.findings.stations import describe_stations, station_use
from pathsim.findings.stitches import stitches
from pathsim.findings.torch_sizes import torch_doubts
from pathsim.findings.touch_search import describe_searches, touch_searches
from pathsim.findings.trade_practice import trade_practice
from pathsim.findings.two_ways import two_ways
from pathsim.findings.uncertain_places import uncertain_places
from pathsim.findings.unchecked import unchecked
from pathsim.findings.unfinished import unfinished
from pathsim.findings.unused import unused
from pathsim.findings.unusual import unusual
from pathsim.findings.unwelded import unwelded
from pathsim.findings.way_home import way_home
from pathsim.findings.weave_feasibility import weave_descriptions, weave_truth
from pathsim.findings.wind_up import wind_up
from pathsim.findings.wrist import wrist_zones
from pathsim.findings.wrist_room import wrist_room

_CONCERNS = (
    unfinished,
    uncertain_places,
    seams_off,
    unchecked,
    wrist_room,
    standing,
    held_together,
    cables,
    reach_faults,
    contacts,
    joint_limits,
    near_hits,
    touch_searches,
    station_use,
    two_ways,
    wrist_zones,
    singular_zones,
    joint_speeds,
    postures_picked,
    planning_notes,
    roundings,
    weave_truth,
    room_for_weaves,
    program_checks,
    trade_practice,
    stitches,
    passes,
    bead_reach,
    pauses,
    way_home,
    wind_up,
    unused,
    unwelded,
    repeats,
    unusual,
)


#: Doubts of the model itself: while one stands, no number behind it means much.
_DOUBTS = (
    FindingKind.UNLIKELY_UNIT,
    FindingKind.UNLIKELY_TORCH,
    FindingKind.UNLIKELY_BODY,
    FindingKind.SEAM_OFF,
    FindingKind.OVERLAP,
    FindingKind.STANDS_TWICE,
    FindingKind.FLOATS,
    FindingKind.TOUCHES_TABLE,
    FindingKind.DRAWN_INTO,
)


def collect(evidence: Evidence) -> tuple[Finding, ...]:
    """Gravest first; among equals doubts of the model first, then in the order of the program.

    What follows from a body or piece that is doubted is told once, in that doubt.
    """
    plain = list(itertools.chain.from_iterable(concern(evidence) for concern in _CONCERNS))
    doubts = [*torch_doubts(evidence.cell.torch), *body_doubts(evidence, plain)]
    found = grouped(doubts, plain)

    def order(finding: Finding) -> tuple[int, bool, int, float]:
        is_doubt = finding.kind in _DOUBTS
        number = 0 if finding.move is None else finding.move
        time = finding.time if finding.time is not None else -1.0
        return (finding.level.rank, not is_doubt, number, time)

    return tuple(sorted(found, key=order))


_DESCRIPTIONS = (
    reserve_notes,
    weave_descriptions,
    process_notes,
    describe_searches,
    describe_stations,
)


def describe_seams(evidence: Evidence) -> tuple[Finding, ...]:
    """Say what each seam is, in the order of the program: numbers, no verdicts."""
    found = list(itertools.chain.from_iterable(say(evidence) for say in _DESCRIPTIONS))
    return tuple(sorted(found, key=lambda f: f.move or 0))
