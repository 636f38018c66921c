"""A result on the terminal."""

from __future__ import annotations

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.findings import Finding, Level
from pathsim.report.placement_text import placement_lines
from pathsim.result.words import closest, guaranteed, verdict, where
from pathsim.units import percent

#: Weight, not only colour, tells the levels apart; the word stands there anyway.
_STYLES = {Level.STOP: "bold magenta", Level.WATCH: "bold", Level.NOTE: "dim"}


def print_result(result: CheckResult, console: Console) -> None:
    """Print the table of moves, the findings, what was not checked, and the caution."""
    cell, trajectory = result.cell, result.trajectory
    count = len(trajectory.tracks)
    moves = "1 move" if count == 1 else f"{count} moves"
    console.print(Text(f"{cell.name}: {moves}, {_times(result)}"), style="bold")
    console.print()
    console.print(_moves_table(result))
    console.print()
    console.print(_findings_table(result.findings))
    console.print(verdict(result), style="bold", soft_wrap=False)
    console.print()
    for seam in result.seams:
        console.print(Text(seam.text), style="dim")
    if result.seams:
        console.print()
    placement = placement_lines(result.placement)
    console.print(Text("How far a body may be off: " + "; ".join(placement) + "."))
    for line in _not_checked(result):
        console.print(Padding(Text(line), (0, 0, 0, 2)) if line.startswith("  ") else Text(line))
    if cell.fingerprint:
        console.print(Text(f"The cell's files: sha256 {cell.fingerprint}"), style="dim")
    if result.engine_note:
        console.print(Text(result.engine_note), style="dim")
    console.print(Text(CAUTION), style="italic")


def _times(result: CheckResult) -> str:
    """Say cycle time and arc-on time, and the cycle time of a first run at the override."""
    trajectory, override = result.trajectory, result.cell.override
    text = f"{trajectory.duration:.1f} s"
    arc = sum(track.arc_seconds for track in trajectory.tracks)
    if arc > 0:
        text += f", {arc:.1f} s of it with the arc on"
    if all(track.fault is None for track in trajectory.tracks) and override < 1:
        text += f" ({trajectory.slow_duration:.1f} s at {percent(override)})"
    return text


def _moves_table(result: CheckResult) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("", justify="right")
    table.add_column("move")
    table.add_column("", overflow="fold")
    table.add_column("s", justify="right")
    table.add_column("guaranteed clear by", justify="right", no_wrap=True)
    table.add_column("at", justify="right", no_wrap=True)
    table.add_column("closest", overflow="fold")
    for move in result.moves:
        track = move.track
        table.add_row(
            Text(str(track.number)),
            Text(track.move.label),
            Text(f"{track.start} > {track.move.target}"),
            Text(f"{track.duration:.1f}"),
            Text(guaranteed(move, result.cap)),
            Text(where(move)),
            Text(closest(move)),
        )
    return table


def _findings_table(findings: tuple[Finding, ...]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column("number", justify="right", style="dim")
    table.add_column("level", no_wrap=True)
    table.add_column("what", overflow="fold")
    for number, finding in enumerate(findings, start=1):
        level = Text(finding.level, style=_STYLES[finding.level])
        table.add_row(str(number), level, Text(finding.text))
    return table


def _not_checked(result: CheckResult) -> list[str]:
    agreed = [item for item in result.left_out if item.is_agreed]
    lacking = [item for item in result.left_out if not item.is_agreed]
    lines = ["Not checked: " + "; ".join(f"{item.what} ({item.why})" for item in lacking) + "."]
    lines.append("Left out by rule: " + "; ".join(f"{i.what} ({i.why})" for i in agreed) + ".")
    return lines
