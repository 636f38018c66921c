"""Waits of unknown length: the program's time is then the least that it can be."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind


def pauses(evidence: Evidence) -> Iterator[Finding]:
    """Say where the program waits for somebody, and that its time is a least one."""
    for track in evidence.trajectory.tracks:
        for pause in track.move.pauses:
            if not pause.wait_for:
                continue
            text = (
                f"At '{track.move.target}', behind move {track.number}, the program waits for "
                f"{pause.wait_for}. {pause.seconds:g} s of it are counted: all times are at least."
            )
            time = float(track.t[-1])
            yield Finding(Level.NOTE, FindingKind.PROGRAM_LINE, text, track.number, time)
