"""How far the joints that wind up hoses turn: over the program, and on its worst move."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.axis_words import axis_name, on_display
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell
from pathsim.model.hoses import Hose
from pathsim.motion import MoveTrack, Trajectory
from pathsim.units import degrees

#: Hoses along the forearm and the flange stand so much turning from least to most, rad (common
#: practice), unless the cell says what its own package stands.
ALLOWED = np.radians(300.0)
#: What is left of a run's turning winds up in the next one, rad.
_NET = np.radians(180.0)
_SAME = 1e-9


def wound(cell: Cell) -> dict[int, Hose | None]:
    """Return the columns of joints about which hoses wind, with what the cell says of them.

    Of any arm the last joint and the one two before it, and all of which the cell says something.
    """
    last = cell.arm.dof - 1
    usual = (column for column in (last - 2, last) if column >= 0)
    columns: dict[int, Hose | None] = {
        column: None for column in usual if not cell.axes.prismatic[column]
    }
    columns |= {hose.joint: hose for hose in cell.hoses}
    return dict(sorted(columns.items()))


def allowed(hose: Hose | None) -> float:
    """Return how far hoses stand to be wound from least to most, rad."""
    return ALLOWED if hose is None else hose.turns


def most_turning(trajectory: Trajectory, column: int) -> MoveTrack:
    """Return the move that turns a joint most, from least to most."""
    return max(trajectory.tracks, key=lambda track: float(np.ptp(track.q[:, column])))


def wind_up(evidence: Evidence) -> Iterator[Finding]:
    """One watch for each joint that winds hoses up too far, or goes on turning."""
    if not len(evidence.trajectory.q):
        return
    for column, hose in wound(evidence.cell).items():
        yield from _joint(evidence, column, hose)


def _joint(evidence: Evidence, column: int, hose: Hose | None) -> Iterator[Finding]:
    cell, trajectory = evidence.cell, evidence.trajectory
    values = trajectory.q[:, column]
    low, high = float(values.min()), float(values.max())
    net, name, most = float(values[-1] - values[0]), axis_name(cell, column), allowed(hose)
    numbers = {"joint": column + 1.0, "turns": high - low, "net": abs(net)}
    said, at = [], None
    if high - low > most + _SAME:
        said += [
            f"{name} turns {degrees(high - low, 0)} from least to most over the program "
            f"({degrees(low, 0)} to {degrees(high, 0)}); hoses stand {_stand(hose)}.",
            _worst_move(trajectory, column, most),
        ]
        at = high
    if hose is not None and hose.unwound is not None:
        way = values - hose.unwound
        farthest = float(values[int(np.argmax(np.abs(way)))])
        numbers["wound"] = abs(farthest - hose.unwound)
        if numbers["wound"] > hose.turns / 2 + _SAME:
            said.append(
                f"{name} goes {degrees(numbers['wound'], 0)} from where its hoses are unwound"
                f"{_shown(cell, column, hose.unwound)}; they stand {degrees(hose.turns / 2, 0)} "
                "each way (as the cell says)."
            )
            at = farthest
    if abs(net) >= _NET:
        said.append(
            f"{name} ends {degrees(abs(net), 0)} from where it started: the next run begins "
            "wound up."
        )
    if not said:
        return
    text = " ".join(said) + " Look at hose and cable, or take another turn."
    track = trajectory.tracks[-1] if at is None else next(
        one for one in trajectory.tracks if (one.q[:, column] == at).any()
    )  # fmt: skip
    row = int(np.argmax(track.q[:, column])) if at is None else int(
        np.argmax(track.q[:, column] == at)
    )  # fmt: skip
    time = float(track.t[row])
    yield Finding(Level.WATCH, FindingKind.WIND_UP, text, track.number, time, numbers=numbers)


def _stand(hose: Hose | None) -> str:
    """Say how far hoses stand to be wound, and who says so."""
    if hose is None:
        return f"about {degrees(ALLOWED, 0)} (common practice)"
    return f"{degrees(hose.turns, 0)} (as the cell says)"


def _worst_move(trajectory: Trajectory, column: int, most: float) -> str:
    """Name the move that turns a joint most, and whether it is too much alone."""
    track = most_turning(trajectory, column)
    way = float(np.ptp(track.q[:, column]))
    alone = " alone" if way > most + _SAME else ""
    return f"The most of it is on {move_name(track)}: {degrees(way, 0)}{alone}."


def _shown(cell: Cell, column: int, value: float) -> str:
    """Say a value of a joint in brackets, as the display shows it where that counts otherwise."""
    q = np.zeros(cell.arm.dof)
    q[column] = value
    return on_display(cell, column, q) or f" ({degrees(value, 0)})"
