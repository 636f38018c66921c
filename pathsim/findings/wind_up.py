"""How far the joints that wind up hoses turn over the whole program."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.findings.axis_words import axis_name
from pathsim.findings.finding import Evidence, Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.units import degrees

#: Hoses along the forearm and the flange stand so much turning from least to most, rad (common
#: practice; the hose package has the last word).
ALLOWED = np.radians(300.0)
#: What is left of a run's turning winds up in the next one, rad.
_NET = np.radians(180.0)


def wind_up(evidence: Evidence) -> Iterator[Finding]:
    """One watch for joints 4 and 6 that turn too far over the program, or go on turning.

    Of any arm: the last joint and the one two before it, about which hoses wind.
    """
    cell, q = evidence.cell, evidence.trajectory.q
    if len(q) == 0:
        return
    last = cell.arm.dof - 1
    for column in (last - 2, last):
        if column < 0 or cell.axes.prismatic[column]:
            continue
        low, high = float(q[:, column].min()), float(q[:, column].max())
        net = float(q[-1, column] - q[0, column])
        said = []
        if high - low > ALLOWED:
            said.append(
                f"{axis_name(cell, column)} turns {degrees(high - low, 0)} from least to most over "
                f"the program ({degrees(low, 0)} to {degrees(high, 0)}); hoses stand about "
                f"{degrees(ALLOWED, 0)} (common practice)."
            )
        if abs(net) >= _NET:
            said.append(
                f"{axis_name(cell, column)} ends {degrees(abs(net), 0)} from where it started: "
                "the next run begins wound up."
            )
        if said:
            text = " ".join(said) + " Look at hose and cable, or take another turn."
            track = evidence.trajectory.tracks[0]
            most = next(t for t in evidence.trajectory.tracks if t.q[:, column].max() == high)
            track = most if high - low > ALLOWED else evidence.trajectory.tracks[-1]
            time = float(track.t[int(np.argmax(track.q[:, column]))])
            numbers = {"joint": column + 1.0, "turns": high - low, "net": abs(net)}
            yield Finding(
                Level.WATCH, FindingKind.WIND_UP, text, track.number, time, numbers=numbers
            )
