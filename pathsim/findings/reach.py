"""Moves that cannot be run to their end."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.clearance import Span
from pathsim.findings.axis_words import asked_for
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.motion import FaultKind
from pathsim.units import percent


def reach_faults(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each move that was not laid to its end; what lies behind is unchecked."""
    for track in evidence.trajectory.tracks:
        if track.fault is None:
            continue
        time = float(track.t[-1])
        share = track.fault.share
        behind = "Nothing of it was checked." if share == 0 else "What comes after was not checked."
        if track.fault.kind is FaultKind.JUMP:
            name = track.fault.joint[:1].upper() + track.fault.joint[1:]
            text = (
                f"{name} would have to leap at {percent(share)} of "
                f"{move_name(track)}: the arm cannot follow. {behind}"
            )
        elif track.fault.kind is FaultKind.NO_START:
            text = f"Where the arm stands before {move_name(track)} cannot be told. {behind}"
        elif track.fault.kind is FaultKind.POSTURE:
            words = asked_for(evidence.cell, evidence.cell.points[track.move.target])
            text = (
                f"'{track.move.target}' cannot be reached in the posture asked for ({words}) "
                f"within the arm's limits, in {move_name(track)}. {behind} Without these words the "
                "check says which joint values fit."
            )
            if track.fault.is_search:
                text += " This arm's postures are searched for, and some may be missed."
        elif track.fault.is_search:
            where = f"{percent(share)} of {move_name(track)}"
            text = (
                f"No joint values were found beyond {where}: out of reach most likely, but this "
                f"arm's wrist has no closed form and a search may miss some. {behind}"
            )
        else:
            where = f"{percent(share)} of {move_name(track)}"
            text = f"The arm does not reach further than {where}. {behind}"
        yield Finding(
            Level.STOP,
            FindingKind.OUT_OF_REACH
            if track.fault.kind is not FaultKind.JUMP
            else FindingKind.JOINT_LEAP,
            text,
            track.number,
            time,
            (Span(time, time),),
            numbers={"share": share},
        )
