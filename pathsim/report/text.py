"""A result on the terminal."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable

from rich.console import Console
from rich.table import Table
from rich.text import Text

from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.clearance import LeftOut
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.tip_speed import TipSpeeds
from pathsim.report.first_run import speed_line
from pathsim.report.placement_text import placement_lines
from pathsim.report.sheet_seams import in_words
from pathsim.result.words import at_least, closest, guaranteed, verdict, way_of, where
from pathsim.units import percent

#: Weight, not only colour, tells the levels apart; the word stands there anyway.
_STYLES = {Level.STOP: "bold magenta", Level.WATCH: "bold", Level.NOTE: "dim"}
#: Narrower than this the table of moves is a list, columns.
_NARROW = 76
#: From so many columns on the seams stand in a table.
_WIDE = 100
#: What it holds, in this order (``Finding.brief``).
_HEADS = (
    "position", "work angle", "travel angle", "joint 5", "J4 / J6 turn", "travel left", "reach",
)  # fmt: skip
_NUMBER_AND_UNIT = re.compile(r"(\d) (mm2?|mm/s2?|%|s|deg|deg/s|Hz|kJ/mm|in/min|m)(?![a-z])")


def print_result(result: CheckResult, console: Console) -> None:
    """Print verdict, moves, what was not checked, the caution; findings and verdict last.

    What matters stands where a person looks after the run: at the end.
    """
    cell = result.cell
    _print_head(result, console)
    console.print()
    if console.width >= _NARROW:
        console.print(_moves_table(result))
    else:
        _print_moves(result, console)
    console.print()
    print_hanging(f"{speed_line(cell, TipSpeeds.of(cell, result.trajectory))}.", console)
    _print_seams(result, console)
    placement = placement_lines(result.placement)
    print_hanging("Placement tolerance before contact: " + "; ".join(placement) + ".", console)
    for line in _not_checked(result):
        print_hanging(line, console)
    if cell.fingerprint:
        print_hanging(f"The cell's files: sha256 {cell.fingerprint}", console, style="dim")
    if result.engine_note:
        print_hanging(result.engine_note, console, style="dim")
    print_hanging(CAUTION, console, style="italic")
    console.print()
    _print_findings(result.findings, console)
    print_hanging(verdict(result), console, style="bold")


def print_brief(result: CheckResult, console: Console) -> None:
    """Print what a run in a row of many needs: what nobody checked, each finding, the verdict.

    However short, no verdict stands without its caution and what it does not cover.
    """
    print_hanging(f"{result.cell.name}: {_times(result)}", console)
    print_hanging(_not_checked(result)[0], console)
    print_hanging(CAUTION, console, style="italic")
    _print_findings(result.findings, console)
    print_hanging(verdict(result), console, style="bold")


def _print_head(result: CheckResult, console: Console) -> None:
    count = len(result.trajectory.tracks)
    moves = "1 move" if count == 1 else f"{count} moves"
    print_hanging(f"{result.cell.name}: {moves}, {_times(result)}", console, style="bold")
    print_hanging(verdict(result), console)


def print_hanging(words: str, console: Console, *, indent: int = 2, style: str = "") -> None:
    """Print a paragraph; its lines after the first stand ``indent`` further in."""
    for line in wrapped(words, console.width, indent):
        console.print(Text(line), style=style, soft_wrap=True)


def wrapped(words: str, width: int, indent: int) -> list[str]:
    """Break a paragraph into lines that hang by ``indent``; no number loses its unit."""
    joined = _NUMBER_AND_UNIT.sub("\\1\N{NO-BREAK SPACE}\\2", words)
    lines = textwrap.wrap(
        joined, max(width, 20), subsequent_indent=" " * indent, break_on_hyphens=False
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _times(result: CheckResult) -> str:
    """Say cycle time and arc-on time, and the cycle time of a first run at the override."""
    trajectory, override = result.trajectory, result.cell.override
    text = f"{at_least(trajectory)}{trajectory.duration:.1f} s"
    arc = sum(track.arc_seconds for track in trajectory.tracks)
    if arc > 0:
        text += f", arc on {arc:.1f} s"
    if all(track.fault is None for track in trajectory.tracks) and override < 1:
        text += f"; {trajectory.slow_duration:.1f} s in all at {percent(override)} override"
    return text


def _moves_table(result: CheckResult) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    table.add_column("", justify="right")
    table.add_column("move")
    table.add_column("", overflow="fold")
    table.add_column("s", justify="right")
    table.add_column("guaranteed clearance", justify="right")
    table.add_column("at % of move", justify="right")
    table.add_column("closest", overflow="fold")
    for move in result.moves:
        track = move.track
        table.add_row(
            Text(str(track.number)),
            Text(track.move.label),
            Text(way_of(track)),
            Text(f"{track.duration:.1f}"),
            Text(guaranteed(move, result.cap)),
            Text(where(move)),
            Text(closest(move)),
        )
    return table


def _print_seams(result: CheckResult, console: Console) -> None:
    """Print what each seam is: what a table can hold in one, a row a seam, the rest in words."""
    rows: dict[int, dict[str, str]] = {}
    plain = (seam for seam in result.seams
             if not seam.brief and seam.kind is not FindingKind.ARM_RESERVE)  # fmt: skip
    for line in in_words(result, plain):
        print_hanging(line, console, style="dim")
    for seam in result.seams:
        if seam.brief and seam.move is not None:
            rows.setdefault(seam.move, {}).update(seam.brief)
    heads = [head for head in _HEADS if any(row.get(head) for row in rows.values())]
    if rows and console.width < _WIDE:
        for move, row in rows.items():
            said = "; ".join(f"{head} {row[head]}" for head in heads if row.get(head))
            print_hanging(f"Seam, move {move}: {said}.", console, style="dim")
    elif rows:
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
        table.add_column("seam", justify="right", style="dim")
        for head in heads:
            table.add_column(head, style="dim", overflow="fold")
        for move, row in rows.items():
            table.add_row(Text(str(move)), *(Text(row.get(head, "")) for head in heads))
        console.print(table)
    if result.seams:
        console.print()


def _print_moves(result: CheckResult, console: Console) -> None:
    """Print the moves one below the other, where a table of them has no room."""
    for move in result.moves:
        track = move.track
        way = way_of(track)
        said = f"{track.number} {track.move.label}, {way}, {track.duration:.1f} s: "
        said += f"guaranteed clearance {guaranteed(move, result.cap)}"
        place = where(move)
        if closest(move):
            said += f", {closest(move)}" + (f", at {place} of the move" if place else "")
        print_hanging(said, console, indent=4)


def _print_findings(findings: tuple[Finding, ...], console: Console) -> None:
    """Print the numbered list, each finding hanging behind its number and level."""
    for number, finding in enumerate(findings, start=1):
        lead = f"{number:>2}  {finding.level:<5}  "
        indent = len(lead) if console.width >= _NARROW else 4
        for row, line in enumerate(wrapped(lead + finding.text, console.width, indent)):
            text = Text(line)
            if row == 0:
                text.stylize(_STYLES[finding.level], 4, 4 + len(finding.level))
            console.print(text, soft_wrap=True)


def _not_checked(result: CheckResult) -> list[str]:
    agreed = [item for item in result.left_out if item.is_agreed]
    lacking = [item for item in result.left_out if not item.is_agreed]
    return [
        f"Not checked: {_by_reason(lacking)}.", f"Pairs not checked, by rule: {_by_reason(agreed)}."
    ]  # fmt: skip


def _by_reason(items: Iterable[LeftOut]) -> str:
    """Say what was left out, a reason that several have once."""
    reasons: dict[str, list[str]] = {}
    for item in items:
        reasons.setdefault(item.why, []).append(item.what)
    return "; ".join(f"{', '.join(whats)} ({why})" for why, whats in reasons.items())
