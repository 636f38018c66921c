"""The line at the top of a first-run sheet."""

from __future__ import annotations

from collections.abc import Sequence

from pathsim.check import CheckResult
from pathsim.findings import Finding, Level
from pathsim.report.not_measured import is_nothing_measured, not_measured
from pathsim.scene.headlines import headline


def sheet_verdict(result: CheckResult) -> str:
    """Say whether the program may be run; of what must not be, the gravest and where it is."""
    stops = [f for f in result.findings if f.level is Level.STOP]
    watches = sum(f.level is Level.WATCH for f in result.findings)
    if stops:
        return f"STOP. Do not run this program. {_gravest(stops)}"
    if result.cell.to_do:
        left = ", ".join(result.cell.to_do)
        return f"NOT FINISHED. No sheet for a first run: {left} still as examples."
    if is_nothing_measured(result):
        return "NOT CHECKED. Nothing was measured: no clearance of this program is known."
    more = " Not everything was measured." if not_measured(result) else ""
    if watches:
        count = "one finding asks" if watches == 1 else f"{watches} findings ask"
        return f"WATCH. {count[0].upper() + count[1:]} for a hand on the stop.{more}"
    return more.strip() or "By the model every move keeps its margin over its whole length."


def _gravest(stops: Sequence[Finding]) -> str:
    """Say the first of some findings in a few words with its move, and how many more there are."""
    first = headline(stops[0], None)
    said = (
        first if stops[0].move is None else f"Move {stops[0].move}: {first[:1].lower()}{first[1:]}"
    )
    left = len(stops) - 1
    if not left:
        return f"{said}."
    return f"{said}; {left} more stop finding{'s' if left > 1 else ''}."
