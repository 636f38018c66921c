"""Moves that go nowhere or weld twice, and one place that was taught under two names."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.finding import Evidence, Finding, Level, move_name, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.model import Move
from pathsim.motion import MoveTrack

#: A move that moves no axis by more goes nowhere, rad or m; places told to so much are one.
_STILL = 1e-6
_ONE_PLACE = 4


def repeats(evidence: Evidence) -> Iterator[Finding]:
    """Say what stands in a program twice, or for nothing."""
    yield from _nowhere(evidence)
    yield from _welded_twice(evidence)
    yield from _one_place(evidence)


def _told(track: MoveTrack, text: str, level: Level = Level.NOTE) -> Finding:
    return Finding(level, FindingKind.REPEATED, text, track.number, float(track.t[0]))


def _nowhere(evidence: Evidence) -> Iterator[Finding]:
    for track in evidence.trajectory.tracks:
        if track.fault is not None or float(np.ptp(track.q, axis=0).max()) > _STILL:
            continue
        if not track.move.arc_on:
            what = "and only waits" if track.move.wait else "and does nothing"
            yield _told(track, f"{upper_move_name(track)} starts where it ends, {what}.")
        elif track.move.arc_behind == 0:
            text = (
                f"The seam of {move_name(track)} has no length and no crater time: nothing is "
                "welded. Check its points."
            )
            yield _told(track, text, Level.WATCH)


def _welded_twice(evidence: Evidence) -> Iterator[Finding]:
    seen: dict[tuple[str, ...], MoveTrack] = {}
    before: MoveTrack | None = None
    for track in evidence.trajectory.tracks:
        if track.move.arc_on:
            way = (track.start, track.move.via or "", track.move.target)
            if way in seen:
                text = (
                    f"{upper_move_name(track)} welds the same way as move {seen[way].number}: is "
                    "a second pass meant?"
                )
                yield _told(track, text)
            elif before is not None and _strikes_again(before.move, track.move):
                text = (
                    f"{upper_move_name(track)} strikes the arc again where move {before.number} "
                    "ended: 'joined: true' keeps it burning."
                )
                yield _told(track, text)
            seen.setdefault(way, track)
        before = track


def _strikes_again(before: Move, move: Move) -> bool:
    """Tell whether the arc goes off and on again at one place; of a tack that is meant."""
    return before.arc_on and not (move.joined or move.tack or before.tack)


def _one_place(evidence: Evidence) -> Iterator[Finding]:
    """Say which points are one place in the same joint values, or in the same pose."""
    places: dict[tuple[bytes, ...], str] = {}
    for name, point in evidence.cell.points.items():
        if point.derived:
            continue
        values = point.q if point.q is not None else point.T_base_tcp
        if values is None:
            continue
        held = b"" if point.held is None else np.round(point.held, _ONE_PLACE).tobytes()
        key = (np.round(values + 0.0, _ONE_PLACE).tobytes(), held, b"q" * (point.q is not None))
        twin = places.setdefault(key, name)
        if twin != name:
            text = f"'{twin}' and '{name}' are one place under two names: teach it once."
            yield Finding(Level.NOTE, FindingKind.REPEATED, text)
