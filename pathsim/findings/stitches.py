"""What a stitch leaves open: a shorter last piece, a rest without a weld, a trailing wire."""

from __future__ import annotations

from collections.abc import Iterator

from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model.laid_out import moves_of_lines, places_of
from pathsim.model.places import Way
from pathsim.model.stitch import Stitch
from pathsim.motion import MoveTrack
from pathsim.units import millimetres

_SLACK = 1e-5


def stitches(evidence: Evidence) -> Iterator[Finding]:
    """Say where a line of stitches does not come out even, and where its wire trails."""
    tracks = evidence.trajectory.tracks
    for first, count in moves_of_lines(evidence.cell.program):
        written = tracks[first].move.written
        if written is None or not isinstance(written.said, Stitch):
            continue
        mine = tracks[first : first + count]
        yield from _rest(evidence, written.said, mine)
        if any(track.move.along_weld for track in mine):
            text = (
                f"Between the stitches to '{written.said.seam.target}' the wire's end trails along "
                "the joint: a 'lift' keeps it off tacks and spatter."
            )
            yield _note(mine[0], text)


def _rest(evidence: Evidence, stitch: Stitch, mine: tuple[MoveTrack, ...]) -> Iterator[Finding]:
    welds = [track for track in mine if track.move.arc_on]
    if any(track.fault is not None for track in mine):
        return
    last, target = welds[-1], f"'{stitch.seam.target}'"
    if last.tip_length < stitch.on - _SLACK:
        text = (
            f"The last of the {len(welds)} stitches to {target} is "
            f"{millimetres(last.tip_length)} long, the others {millimetres(stitch.on)}."
        )
        yield _note(last, text)
    if last.move.target != stitch.seam.target:
        rest = _rest_length(evidence, stitch, mine)
        text = (
            f"The last {millimetres(rest)} to {target} are not welded: no further stitch of "
            f"{millimetres(stitch.on)} fits. The torch leaves from the last one."
        )
        yield _note(last, text)


def _rest_length(evidence: Evidence, stitch: Stitch, mine: tuple[MoveTrack, ...]) -> float:
    """Return how much of the line lies behind the last stitch, m along it."""
    way = Way(places_of(evidence.cell, mine[0].start), mine[0].start, stitch.seam.via,
              stitch.seam.target)  # fmt: skip
    return way.length - stitch.lengths(way.length)[-1][1]


def _note(track: MoveTrack, text: str) -> Finding:
    time = float(track.t[0])
    return Finding(Level.NOTE, FindingKind.PROGRAM_LINE, text, track.number, time)
