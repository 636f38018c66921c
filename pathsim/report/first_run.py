"""What to do for the first run, arc off, and for the first one with the arc on; the tip's speed.

ISO 10218-1 knows two ways to run a program: manual reduced speed, with the tool centre point at 250
mm/s at most and an enabling device held, or automatic with nobody inside the guard. The sheet never
mixes them.
"""

from __future__ import annotations

import math
from dataclasses import replace

from pathsim.findings.tip_speed import REDUCED_SPEED, TipSpeeds
from pathsim.model import Cell
from pathsim.motion import Trajectory, plan_program
from pathsim.report.sheet_records import NEAR
from pathsim.units import millimetres

_REDUCED = f"{REDUCED_SPEED * 1e3:.0f} mm/s"


def override_in_words(override: float) -> str:
    """Say an override as it was typed: half a percent more is another speed."""
    return f"{100 * override:.4g} %"


def tip_speed_in_words(speed: float) -> str:
    """Say a largest tip speed in mm/s, rounded up: it is told as a most."""
    return f"{math.ceil(speed * 1e3 - 1e-6)}"


def speed_line(cell: Cell, speeds: TipSpeeds) -> str:
    """Say how fast the tip goes at the override, and which override manual reduced speed takes."""
    fastest, number = speeds.most(cell.override)
    text = (
        f"Wire tip at up to {tip_speed_in_words(fastest)} mm/s at "
        f"{override_in_words(cell.override)} override (move {number})"
    )
    kept = speeds.override_for()
    limit = f"the {_REDUCED} of manual reduced speed (ISO 10218-1)"
    if kept is None:
        return f"{text}; not even 1 % keeps {limit}: lower the program's own speeds"
    if fastest <= REDUCED_SPEED:
        return f"{text}, within {limit}; {override_in_words(kept)} still is"
    return f"{text}; {override_in_words(kept)} keeps {limit}"


def seconds_at(cell: Cell, trajectory: Trajectory, override: float) -> float | None:
    """Return seconds of the program at another override; None where a move cannot be run."""
    if any(track.fault is not None for track in trajectory.tracks):
        return None
    return plan_program(replace(cell, override=override)).slow_duration


def boxes(cell: Cell, trajectory: Trajectory, speeds: TipSpeeds) -> tuple[str, ...]:
    """Return what to tick before and during the first run, arc off."""
    return (
        "The cell's files are those whose hash stands on this sheet",
        "Clamps, fixture and part stand as in the model; cables and hoses looked at by hand",
        "Tool centre point, base and turning table checked at a known point",
        f"Arc off, gas off, wire feed off, wire cut to {_stick_out(cell)}",
        "Stop tested; guard, gate switch and enabling device work",
        _manual(cell, trajectory, speeds),
        f"Or automatic: gate closed, nobody inside the guard; override "
        f"{override_in_words(cell.override)}; hand on the stop outside",
        f"Run move by move; hand on the stop at moves marked {NEAR}",
    )


def _manual(cell: Cell, trajectory: Trajectory, speeds: TipSpeeds) -> str:
    kept = speeds.override_for()
    if kept is None:
        return (
            f"Not in manual reduced speed: even 1 % override goes over {_REDUCED}; lower the "
            "program's own speeds first"
        )
    used = min(kept, cell.override)
    seconds = seconds_at(cell, trajectory, used)
    lasts = "" if seconds is None else f" ({seconds:.0f} s in all)"
    return (
        f"Either manual reduced speed: override {override_in_words(used)}{lasts} keeps the tip "
        f"within {_REDUCED}; enabling device held, one person, a way out kept free"
    )


def arc_on_lines(cell: Cell) -> tuple[str, ...]:
    """Return what to tick before the first run with the arc on, once the dry run is clear."""
    current = None if cell.process is None else cell.process.current
    shade = "" if current is None else f" of {current:.0f} A"
    return (
        "Dry run done from start to end without a touch; nobody inside the guard",
        f"Screens closed all round; helmet with the filter shade for the current{shade}",
        "Fume extraction on and at the weld",
        "Gas on, flow checked at the nozzle; draughts kept off",
        f"Wire feed on, right wire and contact tip, wire cut to {_stick_out(cell)}; return lead on "
        "the part",
        "Nothing that burns within reach of spatter; extinguisher at hand, fire watch named",
        "Override back to 100 %: travel speed, bead and heat input are those of the program",
    )


def _stick_out(cell: Cell) -> str:
    return millimetres(cell.torch.wire_length).replace(".0 ", " ")
