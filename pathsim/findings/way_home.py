"""The way from the last point back to the first: a program runs again and again."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.axis_words import axis_name
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.units import degrees, millimetres

#: Two taught points nearer than this are most likely meant to be one, rad and m.
_TWIN = np.radians(3.0)
_TWIN_SLIDE = 0.02
#: The arm is where it started when no axis is farther from it, rad and m.
_SAME = np.radians(0.5)
_SAME_SLIDE = 0.001


def way_home(evidence: Evidence) -> Iterator[Finding]:
    """Say when the arm does not end where it started: nobody checked how it gets back there."""
    cell, tracks = evidence.cell, evidence.trajectory.tracks
    if not tracks or tracks[-1].fault is not None:
        return
    start, last = cell.program.start, tracks[-1].move.target
    first, end = tracks[0].q[0], tracks[-1].q[-1]
    apart, slides = np.abs(first - end), cell.axes.prismatic
    if last == start:
        if (apart > np.where(slides, _SAME_SLIDE, _SAME)).any():
            worst = int(np.argmax(np.where(slides, apart / _SAME_SLIDE, apart / _SAME)))
            off = millimetres(apart[worst]) if slides[worst] else degrees(apart[worst])
            text = (
                f"The program comes back to '{start}' in another posture: "
                f"{axis_name(cell, worst)} stands {off} from where it started. The next run "
                "starts there and was not checked. Teach the point with joint values."
            )
            yield _finding(evidence, Level.WATCH, text)
    elif (apart < np.where(slides, _TWIN_SLIDE, _TWIN)).all():
        text = (
            f"The program starts at '{start}' and ends at '{last}', nearly the same place: "
            "go home to the same taught point, not to a twin of it."
        )
        yield _finding(evidence, Level.NOTE, text)
    else:
        text = (
            f"The program starts at '{start}' and ends elsewhere, at '{last}': the way back to "
            f"the start was not checked. End with a move to '{start}'."
        )
        yield _finding(evidence, Level.WATCH, text)


def _finding(evidence: Evidence, level: Level, text: str) -> Finding:
    track = evidence.trajectory.tracks[-1]
    return Finding(level, FindingKind.WAY_HOME, text, track.number, float(track.t[0]))
