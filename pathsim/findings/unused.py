"""What was taught and is never used: points, weaves and schedules."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell, MoveKind
from pathsim.model.run import subprograms_of
from pathsim.motion import MoveTrack
from pathsim.transforms import Array
from pathsim.units import millimetres

#: A point that far from a weld's end, back along the wire, is a retract or approach point, m.
_NEAREST, _FARTHEST = 0.02, 0.3
_WITHIN = np.cos(np.radians(45.0))
_MOST_NAMES = 5


def unused(evidence: Evidence) -> Iterator[Finding]:
    """Say what nothing uses; of a point that a joint move at a weld should go by, as a watch."""
    cell = evidence.cell
    reached = {cell.program.start}
    for move in cell.program.moves:
        reached |= {move.target} if move.via is None else {move.target, move.via}
        if move.written is not None:
            reached |= move.written.outermost.said.named | move.written.said.named
    left = [name for name in cell.points if name not in reached]
    for track, place, how in _bare_ends(evidence):
        for name in list(left):
            away = _above(cell, name, place)
            if away is None:
                continue
            left.remove(name)
            text = (
                f"You taught '{name}', {millimetres(away, 0)} from the weld, and never use it. "
                f"Move {track.number} {how} by a joint move: go by '{name}' in a straight line."
            )
            time = float(track.t[0])
            yield Finding(Level.WATCH, FindingKind.UNUSED, text, track.number, time)
    if left:
        text = f"You taught {_names(left)} and never use {'it' if len(left) == 1 else 'them'}."
        yield Finding(Level.NOTE, FindingKind.UNUSED, text)
    weaves = {move.weave.name for move in cell.program.moves if move.weave is not None}
    schedules = {move.schedule.name for move in cell.program.moves if move.schedule is not None}
    for kind, said, used in (
        ("Weave", cell.weaves, weaves),
        ("Schedule", cell.schedules, schedules),
        ("Subprogram", cell.subprograms, set(subprograms_of(cell.program))),
    ):
        idle = [name for name in said if name not in used]
        if not idle:
            continue
        word, it = (kind, "it") if len(idle) == 1 else (f"{kind}s", "them")
        who = "the program never runs" if kind == "Subprogram" else "no seam uses"
        text = f"{word} {_names(idle)}: {who} {it}."
        yield Finding(Level.NOTE, FindingKind.UNUSED, text)


def _bare_ends(evidence: Evidence) -> Iterator[tuple[MoveTrack, Array, str]]:
    """Yield joint moves that leave a weld or go right to one, with the tool's pose at the weld."""
    tracks, cell = evidence.trajectory.tracks, evidence.cell
    for track in tracks:
        if track.move.kind is not MoveKind.JOINT or track.fault is not None:
            continue
        if track.index > 0 and tracks[track.index - 1].move.at_weld:
            yield track, cell.tool_poses(track.q[:1])[0], "leaves the weld"
        if track.index + 1 < len(tracks) and tracks[track.index + 1].move.at_weld:
            yield track, cell.tool_poses(track.q[-1:])[0], "goes to the weld"


def _above(cell: Cell, name: str, weld: Array) -> float | None:
    """Return how far a point lies back along the wire from a weld's end; None where it does not."""
    point = cell.points[name]
    if point.q is not None:
        tip = cell.tips(point.q[None])[0]
    elif point.T_base_tcp is not None:
        tip = (cell.T_world_base @ point.T_base_tcp)[:3, 3]
    else:
        return None
    way = tip - weld[:3, 3]
    away = float(np.linalg.norm(way))
    if not _NEAREST <= away <= _FARTHEST or float(-way @ weld[:3, 2]) < _WITHIN * away:
        return None
    return away


def _names(names: list[str]) -> str:
    said = [f"'{name}'" for name in names[:_MOST_NAMES]]
    more = len(names) - _MOST_NAMES
    if more > 0:
        return f"{', '.join(said)} and {more} more"
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
