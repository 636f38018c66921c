"""Notes on what the arm has left: on each seam, and over the whole program."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.arm_reserve import Reserve, reserve
from pathsim.findings.axis_words import axis_value
from pathsim.findings.finding import Evidence, Finding, Level, upper_move_name
from pathsim.findings.kinds import FindingKind
from pathsim.findings.wind_up import ALLOWED, most_turning, wound
from pathsim.model import Cell
from pathsim.motion import Trajectory
from pathsim.units import degrees, percent


def reserve_notes(evidence: Evidence) -> Iterator[Finding]:
    """One note for each seam, and one for the whole program in front of them."""
    cell, tracks = evidence.cell, evidence.trajectory.tracks
    if not tracks:
        return
    whole = reserve(cell, evidence.trajectory.q)
    text = f"Over the whole program: {_in_words(cell, whole)}"
    if whole.winds:
        text += f" {_hoses(cell, evidence.trajectory)}"
    left = [
        f"{name.removeprefix('the ')} {axis_value(cell, k, way, 0)}"
        for k, (name, way) in enumerate(zip(cell.axes.names, whole.left, strict=True))
        if np.isfinite(way)
    ]
    if left:
        text += f" Travel left to the nearer limit: {', '.join(left)}."
    yield Finding(Level.NOTE, FindingKind.ARM_RESERVE, text, numbers=_numbers(whole))
    for track in tracks:
        if track.move.arc_on and len(track.t) > 1:
            found = reserve(cell, track.q)
            text = f"{upper_move_name(track)}: {_in_words(cell, found)}"
            yield Finding(
                Level.NOTE,
                FindingKind.ARM_RESERVE,
                text,
                track.number,
                float(track.t[0]),
                numbers=_numbers(found),
                brief=_brief(cell, found),
            )


def _hoses(cell: Cell, trajectory: Trajectory) -> str:
    """Say how far hoses stand to be wound up, and what the worst move of each joint takes of it."""
    known = wound(cell)
    said = [f"{degrees(hose.turns, 0)} on {cell.axes.names[column]}"
            for column, hose in known.items() if hose is not None]  # fmt: skip
    usual = f"about {degrees(ALLOWED, 0)} from least to most (common practice)"
    if said:
        others = f"; elsewhere {usual}" if None in known.values() else ""
        usual = f"{', '.join(said)} from least to most (as the cell says){others}"
    worst = []
    for column in known:
        track = most_turning(trajectory, column)
        way = degrees(float(np.ptp(track.q[:, column])), 0)
        worst.append(f"{cell.axes.names[column]} by {way} (move {track.number})")
    return f"Hoses stand {usual}. The most on one move: {', '.join(worst)}."


def _in_words(cell: Cell, found: Reserve) -> str:
    """Say what is left: ``joint 5 at least 41 deg off a wrist in line; joint 4 turns ...``."""
    said = []
    if found.wrist is not None:
        said.append(f"joint 5 at least {degrees(found.wrist, 0)} off a wrist in line")
    said += [
        f"{cell.axes.names[k]} turns {degrees(way, 0)} in all" for k, way in found.winds.items()
    ]
    if found.tightest is not None:
        way = axis_value(cell, found.tightest, found.left[found.tightest], 0)
        said.append(f"least travel left {way}, {cell.axes.names[found.tightest]}")
    if found.stretch is not None:
        said.append(f"reach used {percent(found.stretch)} of a straight arm")
    return "; ".join(said) + "."


def _brief(cell: Cell, found: Reserve) -> dict[str, str]:
    winds = " / ".join(f"{np.degrees(way):.0f}" for way in found.winds.values())
    tight = found.tightest
    left = "" if tight is None else (
        f"{axis_value(cell, tight, found.left[tight], 0)}, {cell.axes.names[tight]}"
    )  # fmt: skip
    return {
        "joint 5": "" if found.wrist is None else degrees(found.wrist, 0),
        "J4 / J6 turn": f"{winds} deg" if winds else "",
        "travel left": left,
        "reach": "" if found.stretch is None else percent(found.stretch),
    }


def _numbers(found: Reserve) -> dict[str, float]:
    numbers = {f"axis {k + 1} turns": way for k, way in found.winds.items()}
    numbers |= {f"axis {k + 1} left": v for k, v in enumerate(found.left) if np.isfinite(v)}
    if found.wrist is not None:
        numbers["wrist"] = found.wrist
    if found.stretch is not None:
        numbers["reach used"] = found.stretch
    return numbers
