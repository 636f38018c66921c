"""All words and numbers of a first-run sheet; how they are set is not its business."""

from __future__ import annotations

import numpy as np

from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.clearance import MoveClearance
from pathsim.clearance.contact_rules import cable_margin
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.findings.tip_speed import TipSpeed, TipSpeeds
from pathsim.model import Cell, Move, MoveKind
from pathsim.motion import MoveTrack
from pathsim.report.first_run import (
    arc_on_lines,
    boxes,
    override_in_words,
    speed_line,
    tip_speed_in_words,
)
from pathsim.report.not_measured import is_nothing_measured, not_measured
from pathsim.report.placement_text import placement_lines
from pathsim.report.sheet_levels import counted, doubts, levels_of_moves, to_cure
from pathsim.report.sheet_plan import plan_of
from pathsim.report.sheet_points import points_heads, points_rows
from pathsim.report.sheet_records import Line, Moment, Row, SheetContent, Shown
from pathsim.report.sheet_seams import seam_numbers
from pathsim.report.sheet_setup import hose_lines, setup_lines
from pathsim.report.sheet_verdict import sheet_verdict
from pathsim.report.short_names import ShortNames, shortened
from pathsim.result.words import at_least, guaranteed
from pathsim.scene.moments import way_into_move
from pathsim.scene.seam_words import seam_lines
from pathsim.units import millimetres, percent

#: Less is no wait, s.
_NO_TIME = 1e-9
WRIST_KINDS = (
    FindingKind.WRIST_ALIGNED,
    FindingKind.ELBOW_STRETCHED,
    FindingKind.WRIST_OVER_SHOULDER,
    FindingKind.NEAR_SINGULAR,
)
_LONGEST_TITLE, _LONGEST_FILE = 80, 64
_LONG_NAMES = (
    "Names too long for this sheet are shortened in their middle; the cell's files have them whole."
)


def sheet_content(
    result: CheckResult,
    files: str,
    date: str,
    shown: tuple[Shown, ...],
    no_stills: str = "",
) -> SheetContent:
    """Put a sheet together; every finding of the result stands in one of its lists.

    ``shown``: the moments to stand by. ``no_stills``: why there are no pictures.
    """
    cell = result.cell
    names = names_of(cell)
    moments = tuple(_moment(one, k + 1, result, names) for k, one in enumerate(shown))
    near = frozenset(one.finding.move for one in shown)
    levels, is_stop = levels_of_moves(result), result.has(Level.STOP)
    is_to_run = not (is_stop or cell.to_do or is_nothing_measured(result))
    speeds = TipSpeeds.of(cell, result.trajectory)
    notes = [result.engine_note] if result.engine_note else []
    notes += [_LONG_NAMES] if names.are_needed else []
    return SheetContent(
        title=shortened(cell.name, _LONGEST_TITLE),
        files=names(files),
        all_files=", ".join(map(ShortNames({"file": cell.files}, _LONGEST_FILE), cell.files)),
        fingerprint=cell.fingerprint,
        date=date,
        totals=f"{_totals(result)}. {speed_line(cell, speeds)}",
        notes=tuple(notes),
        verdict=names(sheet_verdict(result)),
        is_stop=is_stop,
        seconds_head=f"s at {override_in_words(cell.override)}",
        rows=tuple(
            _row(move, result, names, levels.get(move.track.number), move.track.number in near, tip)
            for move, tip in zip(result.moves, speeds.moves, strict=True)
        ),
        moments=moments,
        moments_note=_moments_note(result, is_any=bool(moments)),
        no_stills=names(no_stills),
        wrist=_wrist(result, shown, names),
        findings=tuple(_line(f, names) for f in _not_told(result, shown)),
        unknown=tuple(map(names, _unknown(result))),
        placement=_placement(result, names),
        setup=tuple(map(names, (*setup_lines(cell), *hose_lines(result)))),
        labels=cell.labels.rows,
        points_heads=points_heads(result),
        points=points_rows(result, names),
        plan=plan_of(result, shown),
        remarks=cell.labels.remarks,
        boxes=boxes(cell, result.trajectory, speeds) if is_to_run else (),
        numbers=() if is_stop else tuple(map(names, seam_numbers(result))),
        arc_on=arc_on_lines(cell) if is_to_run and _has_arc(result) else (),
        caution=CAUTION,
        doubts=tuple(_line(finding, names) for finding in doubts(result)),
        seams=tuple(map(names, seam_lines(result))),
        to_cure=tuple(map(names, to_cure(result))) if is_stop else (),
    )


def names_of(cell: Cell) -> ShortNames:
    """Return the short forms of all names in a cell."""
    return ShortNames(
        {
            "body": [body.name for body in cell.bodies],
            "point": list(cell.points),
            "weave": [m.weave.name for m in cell.program.moves if m.weave is not None],
            "torch piece": [piece.name for piece in cell.pieces if piece.is_torch],
        }
    )


def _has_arc(result: CheckResult) -> bool:
    return any(track.move.arc_on for track in result.trajectory.tracks)


def _is_shown(finding: Finding, shown: tuple[Shown, ...]) -> int | None:
    """Return the number of the moment that is this very finding; others may read alike."""
    return next((k + 1 for k, one in enumerate(shown) if one.finding is finding), None)


def _not_told(result: CheckResult, shown: tuple[Shown, ...]) -> list[Finding]:
    return [
        finding
        for finding in result.findings
        if finding.move is not None
        and finding.kind not in WRIST_KINDS
        and _is_shown(finding, shown) is None
    ]


def _wrist(result: CheckResult, shown: tuple[Shown, ...], names: ShortNames) -> tuple[Line, ...]:
    lines = []
    for finding in result.findings:
        if finding.kind in WRIST_KINDS and finding.move is not None:
            number = _is_shown(finding, shown)
            line = _line(finding, names)
            lines.append(line if number is None else Line(line.lead, f"see moment {number} above."))
    return tuple(lines) or (Line("", "None on this program."),)


def _line(finding: Finding, names: ShortNames) -> Line:
    move = "" if finding.move is None else f", move {finding.move}"
    return Line(f"{finding.level}{move}", names(finding.text))


def _placement(result: CheckResult, names: ShortNames) -> tuple[str, ...]:
    lines = placement_lines(result.placement)
    return tuple(map(names, lines)) or ("no number, as the cell has no bodies",)


def _moments_note(result: CheckResult, *, is_any: bool) -> str:
    """Say what the moments leave open, and why there are none."""
    lacking = not_measured(result)
    said = f"Not measured: {'; '.join(lacking)}." if lacking else ""
    if is_any:
        more = " The moments below are only the nearest of what was measured."
        return said + more if said else ""
    if is_nothing_measured(result):
        return f"No moment can be named, as nothing was measured. {said}".strip()
    far = f"Nothing that was measured comes nearer than {millimetres(result.cap, 0)} on any move."
    return f"{far} {said}".strip()


def _totals(result: CheckResult) -> str:
    trajectory = result.trajectory
    seconds = f"{at_least(trajectory)}{trajectory.duration:.1f} s"
    text = f"{len(trajectory.tracks)} moves. Running time {seconds}"
    arc = sum(track.arc_seconds for track in trajectory.tracks)
    if arc > 0:
        text += f", arc on {arc:.1f} s"
    if all(track.fault is None for track in trajectory.tracks):
        at = override_in_words(result.cell.override)
        text += f"; {trajectory.slow_duration:.1f} s in all at {at} override"
    else:
        text += "; the time at reduced speed is not known, as a move cannot be run to its end"
    margins = result.cell.margins
    text += (
        f". Margins: air {1e3 * margins.air:g} mm, approach {1e3 * margins.approach:g} mm, "
        f"seam {1e3 * margins.seam:g} mm"
    )
    for cable in result.cell.cables:
        text += f", {cable.name} {1e3 * cable_margin(result.cell, cable):g} mm"
    return f"{text}. {counted(result)}"


def _row(
    move: MoveClearance,
    result: CheckResult,
    names: ShortNames,
    level: Level | None,
    is_near: bool,
    tip: TipSpeed,
) -> Row:
    track = move.track
    worst, clear_by = move.worst, guaranteed(move, result.cap)
    seen = clear_by != "not checked" and worst is not None and np.isfinite(worst.clearance.upper)
    return Row(
        number=str(track.number),
        kind=track.move.label,
        way=_way(track, names),
        speed=_speed(track.move),
        seconds="?" if track.fault is not None else f"{track.slow_duration:.1f}",
        tip=tip_speed_in_words(tip.most(result.cell.override)),
        clear_by=clear_by,
        at=percent(track.share(worst.clearance.time)) if seen and worst is not None else "",
        to=f"{names(worst.piece)} to {names(worst.body)}" if seen and worst is not None else "",
        is_near=is_near or level is not None,
        level="" if level is None else str(level),
    )


def _speed(move: Move) -> str:
    if move.tack:
        return "stands"
    return percent(move.speed) if move.kind is MoveKind.JOINT else f"{1e3 * move.speed:g} mm/s"


def _way(track: MoveTrack, names: ShortNames) -> str:
    """Say a move's points, and what else the program asks for on it."""
    move = track.move
    points = [track.start, *([move.via] if move.via is not None else []), move.target]
    more = [move.belongs_to] if move.belongs_to else []
    if move.weave is not None:
        more.append(f"weave {names(move.weave.name)}")
    if move.joined:
        more.append("goes on without a stop")
    if move.crater:
        more.append(f"{'arc on' if move.tack else 'crater'} {move.crater:g} s")
    if move.schedule is not None:
        more.append(f"schedule {names(move.schedule.name)}")
    plain = move.wait - sum(pause.seconds for pause in move.pauses)
    if plain > _NO_TIME:
        more.append(f"wait {plain:g} s")
    more += [pause.words for pause in move.pauses]
    if move.rounding:
        more.append(f"rounding {1e3 * move.rounding:g} mm")
    return "; ".join([" > ".join(map(names, points)), *more])


def _unknown(result: CheckResult) -> tuple[str, ...]:
    lacking = [item for item in result.left_out if not item.is_agreed]
    said = []
    for why in dict.fromkeys(item.why for item in lacking):
        what = ", ".join(item.what for item in lacking if item.why == why)
        said.append(f"{what}: {why}")
    said += [
        f"weld aim of move {seam.move}: not checked, as {seam.untold}"
        for seam in result.seam_places
        if seam.untold is not None
    ]
    return (*said, "where things really stand: the model says where they should")


def _moment(shown: Shown, number: int, result: CheckResult, names: ShortNames) -> Moment:
    finding = shown.finding
    assert finding.move is not None and finding.time is not None  # noqa: S101
    track = result.trajectory.tracks[finding.move - 1]
    way = millimetres(way_into_move(result.cell, track, finding.time), 0)
    when = (
        f"Move {finding.move}: {way} after {names(track.start)}, on the way to "
        f"{names(track.move.target)}; {finding.time:.1f} s"
    )
    if result.cell.override < 1 and all(one.fault is None for one in result.trajectory.tracks):
        before = sum(one.slow_duration for one in result.trajectory.tracks[: track.index])
        slow = before + track.share(finding.time) * track.slow_duration
        when += f", {slow:.1f} s at {override_in_words(result.cell.override)}"
    level = "" if finding.level is Level.NOTE else f"{finding.level}"
    return Moment(number, when, level, names(finding.text), shown.side, shown.still)
