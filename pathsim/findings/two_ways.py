"""Straight moves, arcs and seams on which the arm may go on in another posture."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.clearance import Span
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.motion import Alignment, MoveTrack, TwoWays
from pathsim.units import degrees, millimetres, percent


def two_ways(evidence: Evidence) -> Iterator[Finding]:
    """One finding for each move on which two postures meet.

    A watch, since nobody knows from there on where elbow, neck and hoses are. A stop on a seam:
    with the arc on a wrist that swings spoils the weld, and the arm goes on beside the part in a
    posture that nothing was measured for.
    """
    for track in evidence.trajectory.tracks:
        fork = track.fork.value
        if fork is not None:
            yield _finding(evidence, track, fork)


def _finding(evidence: Evidence, track: MoveTrack, fork: TwoWays) -> Finding:
    time = float(track.t[0]) + fork.after
    where = f"at {percent(track.share(time))} of {move_name(track)}"
    behind = [t.number for t in evidence.trajectory.unsure_after(track)]
    text = f"{_what(fork)} {where}. {_ways(fork)} Only one was measured: "
    text += "clearances from there on are not guaranteed"
    if behind:
        text += f", nor those of move{'s' if len(behind) > 1 else ''} {_listed(behind)}"
    return Finding(
        Level.STOP if track.move.arc_on else Level.WATCH,
        FindingKind.TWO_WAYS,
        f"{text}. {_cure(track, fork)}",
        track.number,
        time,
        (Span(time, float(track.t[-1])),),
        numbers={"measure": fork.measure},
    )


def _listed(numbers: list[int]) -> str:
    return " and ".join(filter(None, [", ".join(map(str, numbers[:-1])), str(numbers[-1])]))


def _what(fork: TwoWays) -> str:
    """Say what lines up, and how far."""
    if fork.what is Alignment.WRIST:
        return f"Joints 4 and 6 line up to {degrees(fork.measure, 2)}"
    if fork.what is Alignment.SHOULDER:
        return f"The wrist's centre comes over axis 1, to {millimetres(fork.measure)},"
    if fork.what is Alignment.ELBOW:
        return f"Upper arm and forearm come into one line, to {degrees(fork.measure, 2)},"
    return f"Some joints line up (smallest singular value {fork.measure:.4f})"


def _ways(fork: TwoWays) -> str:
    swinging = {
        Alignment.WRIST: ", joints 4 and 6 swinging half a turn,",
        Alignment.SHOULDER: ", joint 1 swinging half a turn,",
    }.get(fork.what, "")
    return f"There the arm may keep its posture{swinging} or go through into the other one."


def _cure(track: MoveTrack, fork: TwoWays) -> str:
    if fork.what is Alignment.WRIST:
        turn = "Turn the torch about its wire, or tilt it, at both ends"
        return f"{turn}." if track.move.arc_on else f"{turn}, or take a joint move there."
    place = "Move the part or the arm's base"
    return f"{place}." if track.move.arc_on else f"{place}, or take a joint move there."
