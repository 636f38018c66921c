"""A result in words, for every table that shows one."""

from __future__ import annotations

import numpy as np

from pathsim.clearance import MoveClearance
from pathsim.clearance.obstacle import ARM_BASE
from pathsim.findings import Level
from pathsim.findings.finding import place_in_move
from pathsim.motion import MoveTrack, Trajectory
from pathsim.result.record import ResultRecord
from pathsim.units import guaranteed_millimetres, millimetres, percent


def guaranteed(move: MoveClearance, cap: float) -> str:
    """Say the guaranteed clearance of a move in words for a table."""
    worst = move.worst
    if all(pair.body == ARM_BASE for pair in move.pairs):
        return "not checked"  # a number against the arm's own base alone would look like clear
    incomplete = "" if move.track.fault is None else " (part)"
    if move.track.sure_until is not None:
        incomplete += " (one posture)"
    if worst is None or (move.track.fault is not None and move.track.fault.share == 0):
        return "not checked"
    if worst.clearance.touches:
        return "touches" + incomplete
    if worst.clearance.lower >= cap:
        return f"over {millimetres(cap, 0)}" + incomplete
    return guaranteed_millimetres(worst.clearance.lower) + incomplete


def where(move: MoveClearance) -> str:
    """Say where in a move, in percent of its time, its closest pair is closest."""
    worst = move.worst
    if worst is None or not np.isfinite(worst.clearance.upper):
        return ""
    if worst.clearance.touches:
        text = place_in_move(move.track, worst.spans)
        return text.replace("from ", "").replace("at ", "")
    return percent(move.track.share(worst.clearance.time))


def closest(move: MoveClearance) -> str:
    """Name the closest pair of a move."""
    worst = move.worst
    if worst is None or not np.isfinite(worst.clearance.upper):
        return ""
    joint = "and" if worst.clearance.touches else "to"
    return f"{worst.piece} {joint} {worst.body}"


def verdict(result: ResultRecord) -> str:
    """Say in one line whether a result is clear."""
    counts = {level: sum(f.level is level for f in result.findings) for level in Level}
    if result.is_clear:
        notes = counts[Level.NOTE]
        tail = "" if notes == 0 else f" {notes} note{'s' if notes > 1 else ''}."
        return f"Clear: all margins kept in this model.{tail}"
    if result.cell.to_do and not result.has(Level.WATCH):
        words = ", ".join(result.cell.to_do)
        return f"Not finished: {words} still as examples. With these, all margins are kept."
    said = [f"{counts[level]} {level}" for level in (Level.STOP, Level.WATCH) if counts[level]]
    return "Not clear: " + ", ".join(said) + "."


def way_of(track: MoveTrack) -> str:
    """Return where a move goes, and which part of a longer line of the program it is."""
    way = f"{track.start} > {track.move.target}"
    return f"{way} ({track.move.belongs_to})" if track.move.belongs_to else way


def at_least(trajectory: Trajectory) -> str:
    """Return what stands before the program's time: it waits for somebody, or it does not."""
    return "at least " if any(track.move.waits_for for track in trajectory.tracks) else ""
