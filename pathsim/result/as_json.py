"""A result as JSON, by the schema ``pathsim/report/result.schema.json``."""

from __future__ import annotations

import json
import math
from importlib.resources import files
from typing import Any

import numpy as np

from pathsim.caution import CAUTION
from pathsim.clearance import MoveClearance, PairClearance, Span
from pathsim.clearance.contact_rules import cable_margin
from pathsim.findings import Finding
from pathsim.findings.cables import carrier_name
from pathsim.findings.seam_place import Place, SeamOnPart
from pathsim.findings.tip_speed import TipSpeeds
from pathsim.model import Cable, Cell
from pathsim.model.beads import LaidBead
from pathsim.model.laid_out import moves_of_lines
from pathsim.result.record import ResultRecord
from pathsim.result.words import at_least
from pathsim.transforms import Array

NAME, VERSION = "pathsim-result", 5


def result_as_json(result: ResultRecord) -> str:
    """Return the result as text: lengths in mm, angles in deg, times in s.

    Holds no date, path or name of a machine: the same cell gives the same bytes.
    """
    trajectory = result.trajectory
    axes, speeds = result.cell.axes, TipSpeeds.of(result.cell, trajectory)
    scale = np.where(axes.prismatic, 1e3, np.degrees(1.0))
    lines = [
        number
        for number, (_, count) in enumerate(moves_of_lines(result.cell.program), 1)
        for _ in range(count)
    ]
    document: dict[str, Any] = {
        "format": NAME,
        "version": VERSION,
        "caution": CAUTION,
        "cell": {"name": result.cell.name, "sha256": result.cell.fingerprint},
        "is_clear": result.is_clear,
        "seconds": _number(trajectory.duration),
        "seconds_at_override": _number(trajectory.slow_duration),
        "override": _number(result.cell.override),
        "tip_mm_s_at_override": _mm(speeds.most(result.cell.override)[0]),
        "override_for_250_mm_s": speeds.override_for(),
        "seconds_are_at_least": bool(at_least(trajectory)),
        "arc_on_seconds": _number(sum(track.arc_seconds for track in trajectory.tracks)),
        "tolerance_mm": _mm(result.tolerance),
        "cap_mm": _mm(result.cap),
        "engine": result.engine,
        "axes": [
            {"name": name, "unit": "mm" if slides else "deg"}
            for name, slides in zip(axes.names, axes.prismatic, strict=True)
        ],
        "moves": [
            _move(move, scale, tip.most(result.cell.override), line)
            for move, tip, line in zip(result.moves, speeds.moves, lines, strict=True)
        ],
        "findings": [_finding(finding) for finding in result.findings],
        "seams": [
            {"move": s.move, "kind": s.kind, "text": s.text, "numbers_si": _numbers(s)}
            for s in result.seams
        ],
        "seam_places": [_seam_place(seam) for seam in result.seam_places],
        "placement": [
            {
                "body": t.body,
                "shift_mm": None if t.unknown else _mm(t.shift),
                "turn_deg": None if t.unknown else _number(float(np.degrees(t.turn))),
                "is_at_least": t.is_at_least,
                "nearest": t.nearest,
                "unknown": t.unknown,
            }
            for t in result.placement
        ],
        "left_out": [
            {
                "what": item.what,
                "why": item.why,
                "is_agreed": item.is_agreed,
                "moves": list(item.moves),
            }
            for item in result.left_out
        ],
    }
    if result.cell.beads:
        document["beads"] = [_bead(bead) for bead in result.cell.beads]
    if result.cell.cables:
        document["cables"] = [_cable(result.cell, cable) for cable in result.cell.cables]
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _bead(bead: LaidBead) -> dict[str, Any]:
    section = None if bead.body is None else bead.body.section
    return {
        "name": bead.name,
        "laid_by_move": bead.laid_by + 1,
        "stands_from_move": None if section is None else bead.stands_from,
        "area_mm2": None if bead.body is None else _number(bead.body.area * 1e6),
        "drawn_width_mm": None if section is None else _mm(2 * section.half_width),
        "drawn_height_mm": None if section is None else _mm(section.top),
    }


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a written result."""
    text = files("pathsim.report").joinpath("result.schema.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def _move(move: MoveClearance, scale: Array, tip: float, line: int) -> dict[str, Any]:
    track = move.track
    fault = track.fault
    return {
        "number": track.number,
        "kind": track.move.label,
        "from": track.start,
        "to": track.move.target,
        "line": line,
        "part_of_line": track.move.belongs_to,
        "stands_for": [pause.words for pause in track.move.pauses],
        "start_s": _number(float(track.t[0])),
        "seconds": _number(track.duration),
        "tip_way_mm": _mm(track.tip_length),
        "tip_mm_s_at_override": _mm(tip),
        "leaves_straight_line_mm": _mm(track.detour),
        "is_whole": fault is None,
        "fault": None
        if fault is None
        else {"kind": str(fault.kind), "share": _number(fault.share)},
        "guaranteed_until_s": None if track.sure_until is None else _number(track.sure_until),
        "axes_used": [
            [_number(float(low)), _number(float(high))]
            for low, high in zip(
                track.q.min(axis=0) * scale, track.q.max(axis=0) * scale, strict=True
            )
        ],
        "knots": {
            "t_s": [_number(float(t)) for t in track.t],
            "q": [[_number(float(v)) for v in row * scale] for row in track.q],
        },
        "pairs": [_pair(pair) for pair in move.pairs],
        "own_pairs": [_pair(pair) for pair in move.own],
        "wire_pairs": [
            _pair(pair) | {"above_end_mm": _mm(pair.stretch.touching_end)} for pair in move.wire
        ],
    }


def _pair(pair: PairClearance) -> dict[str, Any]:
    found = pair.clearance
    seen = np.isfinite(found.upper)
    return {
        "moving": pair.piece,
        "standing": pair.body,
        "zone": str(pair.stretch.zone),
        "rounds": pair.stretch.corner or None,
        "from_s": _number(pair.stretch.start),
        "to_s": _number(pair.stretch.end),
        "margin_mm": _mm(pair.margin),
        "touches": found.touches,
        "is_inside": found.is_inside,
        "within": [
            {
                "inner": pair.inner_and_outer(one.inner)[0],
                "from_s": _number(one.start),
                "to_s": _number(one.end),
            }
            for one in pair.within
        ],
        "guaranteed_mm": _mm(found.lower),
        "seen_mm": _mm(found.upper) if seen else None,
        "closest_s": _number(found.time) if seen else None,
        "on_moving_mm": _place(found.on_moving),
        "on_standing_mm": _place(found.on_standing),
        "spans_s": _spans(pair.spans),
    }


def _seam_place(seam: SeamOnPart) -> dict[str, Any]:
    work = seam.to_work
    return {
        "move": seam.move,
        "unknown": "" if seam.untold is None else str(seam.untold),
        "is_whole": seam.is_whole,
        "allowance_mm": _mm(seam.allowance),
        "least": _seam_spot(seam.least),
        "most": _seam_spot(seam.most),
        "start": _seam_spot(seam.start),
        "end": _seam_spot(seam.end),
        "beside_joint": _seam_spot(seam.beside),
        "is_surfacing": seam.is_surfacing,
        "parts": [{"name": name, "nearest_mm": _mm(gap)} for name, gap in seam.parts.items()],
        "lower_mm": None if seam.lower is None else _mm(seam.lower),
        "upper_mm": None if seam.upper is None else _mm(seam.upper),
        "stick_out_mm": _mm(seam.stick_out),
        "tip_to_work_mm": None
        if work is None
        else {
            name: None if way is None else _mm(way)
            for name, way in zip(work._fields, work, strict=True)
        },
    }


def _seam_spot(place: Place | None) -> dict[str, Any] | None:
    if place is None:
        return None
    return {
        "off_mm": _mm(place.distance),
        "share": _number(place.share),
        "time_s": _number(place.time),
        "part": place.part,
    }


def _cable(cell: Cell, cable: Cable) -> dict[str, Any]:
    return {
        "name": cable.name,
        "on": carrier_name(cell, cable),
        "points_mm": [[_mm(float(value)) for value in point] for point in cable.points],
        "radius_mm": _mm(cable.radius),
        "slack_mm": _mm(cable.slack_taken),
        "slack_is_said": cable.slack is not None,
        "margin_mm": _mm(cable_margin(cell, cable)),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "level": str(finding.level),
        "kind": finding.kind,
        "text": finding.text,
        "move": finding.move,
        "moves": list(finding.moves),
        "time_s": None if finding.time is None else _number(finding.time),
        "spans_s": _spans(finding.spans),
        "moving": finding.piece,
        "standing": finding.body,
        "numbers_si": _numbers(finding),
    }


def _numbers(finding: Finding) -> dict[str, float | None]:
    """Return the numbers of a sentence; null where there is none, as of a distance to nothing."""
    return {
        name: _number(value) if math.isfinite(value) else None
        for name, value in finding.numbers.items()
    }


def _spans(spans: tuple[Span, ...]) -> list[list[float]]:
    return [[_number(span.start), _number(span.end)] for span in spans]


def _number(value: float) -> float:
    """Round to what is meant, so that the last bits of a platform do not show."""
    return round(value, 9) + 0.0


def _mm(metres: float) -> float:
    return round(metres * 1e3, 6) + 0.0


def _place(point: Array | None) -> list[float] | None:
    return None if point is None else [_mm(float(value)) for value in point]
