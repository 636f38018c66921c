"""All words and numbers of a first-run sheet; how they are set is not its business."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.clearance import MoveClearance
from pathsim.clearance.rules import cable_margin
from pathsim.clearance.tolerance import placement_tolerances
from pathsim.findings import Finding, Level
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.report.placement_text import placement_lines
from pathsim.report.text import guaranteed
from pathsim.units import percent

BOXES = (
    "The cell's files are those whose hash stands on this sheet",
    "Clamps, fixture and part stand as in the model; cables and hoses looked at by hand",
    "Tool centre point, base and turning table checked at a known point",
    "Arc off, gas off, wire cut back",
    "Hold-to-run, speed reduced, hand on the stop",
    "Nobody in the safeguarded space; the stop was tried",
    "Run move by move; at the moments named above stand by the stop",
)
WRIST_KINDS = ("wrist aligned", "elbow stretched", "wrist over shoulder", "near singular")


@dataclass(frozen=True)
class Row:
    """One move of the program. ``is_near``: one of the moments to stand by lies in it."""

    number: str
    kind: str
    way: str
    speed: str
    seconds: str
    clear_by: str
    at: str
    to: str
    is_near: bool


@dataclass(frozen=True)
class Moment:
    """When to stand by the stop, what to watch and from which side; ``still`` PNG or None."""

    number: int
    when: str
    what: str
    side: str
    still: bytes | None


@dataclass(frozen=True)
class SheetContent:
    """What stands on a sheet. ``verdict`` and ``is_stop``: the line at the top."""

    title: str
    files: str
    all_files: str
    fingerprint: str
    date: str
    totals: str
    verdict: str
    is_stop: bool
    rows: tuple[Row, ...]
    moments: tuple[Moment, ...]
    no_stills: str
    wrist: tuple[str, ...]
    findings: tuple[str, ...]
    unknown: tuple[str, ...]
    placement: tuple[str, ...]
    boxes: tuple[str, ...]
    caution: str

    @property
    def findings_title(self) -> str:
        """Return the heading of the findings that are not among the moments."""
        return "More stop and watch findings" if self.moments else "Stop and watch findings"


def sheet_content(
    result: CheckResult,
    files: str,
    date: str,
    moments: tuple[Moment, ...],
    moment_moves: frozenset[int],
    no_stills: str = "",
) -> SheetContent:
    """Put a sheet together. ``moment_moves``: numbers of the moves in which the moments lie.

    ``no_stills``: why there are no pictures; empty when there are.
    """
    cell = result.cell
    told = {moment.what for moment in moments}
    stops = [f for f in result.findings if f.level is Level.STOP]
    watches = [f for f in result.findings if f.level is Level.WATCH]
    wrist = [f for f in result.findings if f.kind in WRIST_KINDS]
    return SheetContent(
        title=cell.name,
        files=files,
        fingerprint=cell.fingerprint,
        date=date,
        totals=_totals(result),
        verdict=_verdict(len(stops), len(watches)),
        is_stop=bool(stops),
        rows=tuple(_row(move, result, moment_moves) for move in result.moves),
        moments=moments,
        no_stills=no_stills,
        wrist=tuple(f.text for f in wrist) or ("None on this program.",),
        findings=tuple(f"{f.level}: {f.text}" for f in [*stops, *watches] if f.text not in told),
        all_files=", ".join(cell.files),
        unknown=_unknown(result),
        placement=placement_lines(placement_tolerances(cell, result.moves)),
        boxes=BOXES,
        caution=CAUTION,
    )


def _verdict(stops: int, watches: int) -> str:
    if stops:
        count = "one finding says" if stops == 1 else f"{stops} findings say"
        return f"STOP. Do not run this program: {count} that it touches or cannot be run."
    if watches:
        count = "one finding asks" if watches == 1 else f"{watches} findings ask"
        return f"WATCH. {count[0].upper() + count[1:]} for a hand on the stop."
    return "By the model every move keeps its margin over its whole length."


def _totals(result: CheckResult) -> str:
    trajectory, override = result.trajectory, result.cell.override
    text = f"{len(trajectory.tracks)} moves, {trajectory.duration:.1f} s at full speed"
    if all(track.fault is None for track in trajectory.tracks):
        text += f", {trajectory.slow_duration:.1f} s at {percent(override)}"
    else:
        text += "; the time at reduced speed is not known, as a move cannot be run to its end"
    margins = result.cell.margins
    text += (
        f". Margins: air {1e3 * margins.air:g} mm, approach {1e3 * margins.approach:g} mm, "
        f"seam {1e3 * margins.seam:g} mm"
    )
    for cable in result.cell.cables:
        text += f", {cable.name} {1e3 * cable_margin(result.cell, cable):g} mm"
    return text


def _row(move: MoveClearance, result: CheckResult, near: frozenset[int]) -> Row:
    track = move.track
    joint = track.move.kind is MoveKind.JOINT
    worst = move.worst
    seen = worst is not None and np.isfinite(worst.clearance.upper)
    return Row(
        number=str(track.number),
        kind=track.move.label,
        way=_way(track),
        speed=percent(track.move.speed) if joint else f"{1e3 * track.move.speed:g} mm/s",
        seconds="?" if track.fault is not None else f"{track.slow_duration:.1f}",
        clear_by=guaranteed(move, result.cap),
        at=percent(track.share(worst.clearance.time)) if seen and worst is not None else "",
        to=f"{worst.piece} to {worst.body}" if seen and worst is not None else "",
        is_near=track.number in near,
    )


def _way(track: MoveTrack) -> str:
    """Say a move's points, and what else the program asks for on it."""
    move = track.move
    points = [track.start, *([move.via] if move.via is not None else []), move.target]
    more = []
    if move.weave is not None:
        more.append(f"weave {move.weave.name}")
    if move.joined:
        more.append("goes on without a stop")
    if move.crater:
        more.append(f"crater {move.crater:g} s")
    if move.wait:
        more.append(f"wait {move.wait:g} s")
    if move.rounding:
        more.append(f"rounding {1e3 * move.rounding:g} mm")
    return "; ".join([" > ".join(points), *more])


def _unknown(result: CheckResult) -> tuple[str, ...]:
    lacking = [item for item in result.left_out if not item.is_agreed]
    said = [f"{item.what}: {item.why}" for item in lacking]
    return (*said, "where things really stand: the model says where they should")


def moment_of(finding: Finding, number: int, result: CheckResult, side: str,
              still: bytes | None) -> Moment:  # fmt: skip
    """Return a moment in words."""
    assert finding.move is not None and finding.time is not None  # noqa: S101
    track = result.trajectory.tracks[finding.move - 1]
    slow = "" if result.cell.override >= 1 else " at full speed"
    when = (
        f"Move {finding.move}, {track.start} > {track.move.target}, at "
        f"{percent(track.share(finding.time))} ({finding.time:.1f} s{slow})"
    )
    return Moment(number, when, finding.text, side, still)
