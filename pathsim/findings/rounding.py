"""Roundings that reach farther than the moves they belong to."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.motion import MoveTrack
from pathsim.motion.corner import corner_of
from pathsim.units import millimetres


def roundings(evidence: Evidence) -> Iterator[Finding]:
    """One watch for each move whose ends are rounded by more than it is long, or not at all.

    Up to a move's own ends every mixture of its two moves is covered; where two roundings meet
    an arm may mix three moves, which is not.
    """
    tracks = evidence.trajectory.tracks
    before = 0.0
    for track in tracks:
        after = track.move.rounding
        if (
            after > 0
            and track.fault is None
            and corner_of(evidence.cell, tracks, track.index) is None
        ):
            text = (
                f"'{track.move.target}' is to be rounded in {move_name(track)}, but the arm stops "
                "there or cannot go on: it was measured as a sharp corner."
            )
            yield _watch(track, text)
        if (before > 0 or after > 0) and before + after > track.tip_length > 0:
            text = (
                f"{move_name(track)} is {millimetres(track.tip_length)} long, less than the "
                f"roundings at its ends ({millimetres(before)} and {millimetres(after)}): what an "
                "arm does where they meet was not measured."
            )
            yield _watch(track, text[0].upper() + text[1:])
        if len(track.t) > 1:
            before = after


def _watch(track: MoveTrack, text: str) -> Finding:
    return Finding(Level.WATCH, FindingKind.ROUNDING, text, track.number, float(track.t[-1]))
