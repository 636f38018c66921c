"""Advice as JSON, by the schema beside this file (``advice.schema.json``)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

import numpy as np

from pathsim.advice import Advice, Proposal
from pathsim.advice.cell_proposal import CellProposal
from pathsim.advice.keyed_in import KeyedIn, PoseConvention, keyed_in
from pathsim.caution import CAUTION
from pathsim.check import CheckResult
from pathsim.clearance import PairClearance
from pathsim.model import Cell, Move, MoveKind
from pathsim.transforms import Array, quat_wxyz_from_rotation

NAME, VERSION = "pathsim-advice", 2


def advice_as_json(
    before: CheckResult,
    advice: tuple[Advice, ...],
    convention: PoseConvention | None = None,
    together: Proposal | None = None,
) -> str:
    """Return advice as text: lengths in mm, angles in deg, times in s; proposals best first.

    ``convention``: how poses of points are told. ``together``: the best of all as one.
    ``finding`` is the number in the list of the check. Like a result it holds no date, path or
    name of a machine.
    """
    document = {
        "format": NAME,
        "version": VERSION,
        "caution": CAUTION,
        "cell": {"name": before.cell.name, "sha256": before.cell.fingerprint},
        "is_clear": before.is_clear,
        "cap_mm": _rounded(1e3 * before.cap),
        "advice": [
            {
                "finding": one.number,
                "level": str(one.finding.level),
                "text": one.finding.text,
                "proposals": [_proposal(proposal, convention) for proposal in one.proposals],
                "never": one.never,
                "tried": list(one.tried),
                "of_cell": [_cell_proposal(proposal, convention) for proposal in one.of_cell],
                "tried_on_cell": list(one.tried_on_cell),
                "not_tried_on_cell": list(one.not_tried_on_cell),
            }
            for one in advice
        ],
        "together": None if together is None else _proposal(together, convention),
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def schema() -> dict[str, Any]:
    """Return the JSON schema that ``advice_as_json`` follows."""
    text = files("pathsim.report").joinpath("advice.schema.json").read_text(encoding="utf-8")
    return dict(json.loads(text))


def _proposal(proposal: Proposal, convention: PoseConvention | None) -> dict[str, Any]:
    before, after = proposal.before.findings, proposal.after
    numbers = {id(finding): number for number, finding in enumerate(before, start=1)}
    return {
        "kind": proposal.kind,
        "text": proposal.text,
        "points": _points(after.cell, proposal.change.points, convention),
        "moves_put_in": [_move(index, move) for index, move in proposal.change.moves],
        "moves_instead": [_move(index, move) for index, move in proposal.change.instead],
        "cures": [numbers[id(finding)] for finding in proposal.cures],
        "tightest_before": _pair(proposal.tightest_before),
        "tightest_after": _pair(proposal.tightest_after),
        "added_s": _rounded(proposal.added_seconds),
        "findings_after": _findings(after),
        "evidence": list(proposal.evidence),
    }


def _cell_proposal(proposal: CellProposal, convention: PoseConvention | None) -> dict[str, Any]:
    before, after = proposal.before.findings, proposal.after
    numbers = {id(finding): number for number, finding in enumerate(before, start=1)}
    change = proposal.change
    moved = [
        body
        for old, body in zip(proposal.before.cell.bodies, change.cell.bodies, strict=True)
        if not np.array_equal(old.T_world_body, body.T_world_body)
    ]
    return {
        "kind": str(change.kind),
        "text": change.text,
        "points": _points(change.cell, change.points, convention),
        "bodies": [
            {
                "name": body.name,
                "place_mm": [_rounded(1e3 * value) for value in body.T_world_body[:3, 3]],
                "quaternion": [
                    round(float(value), 6) + 0.0
                    for value in quat_wxyz_from_rotation(body.T_world_body[:3, :3])
                ],
            }
            for body in moved
        ],
        "cures": [numbers[id(finding)] for finding in proposal.cures],
        "added_s": _rounded(after.trajectory.duration - proposal.before.trajectory.duration),
        "findings_after": _findings(after),
        "evidence": list(proposal.evidence),
    }


def _findings(result: CheckResult) -> list[dict[str, Any]]:
    return [{"level": str(f.level), "kind": f.kind, "text": f.text} for f in result.findings]


def _points(
    cell: Cell, points: Mapping[str, Array], convention: PoseConvention | None
) -> list[dict[str, Any]]:
    return [
        {
            "name": one.name,
            "axes": _axes(cell, points[one.name]),
            "display": _axes(cell, one.shown),
            "pose": _pose(one),
        }
        for one in keyed_in(cell, points, convention)
    ]


def _pose(one: KeyedIn) -> dict[str, Any]:
    """Return the tool's pose: place in mm; three angles in deg, or a quaternion."""
    scale = 1.0 if len(one.turn) == 4 else np.degrees(1.0)
    turn = [round(float(scale * value), 6) + 0.0 for value in one.turn]
    place = [_rounded(1e3 * value) for value in one.place]
    how = one.convention
    return {"frame": how.frame, "rotation": how.rotation, "place_mm": place, "turn": turn}


def _move(index: int, move: Move) -> dict[str, Any]:
    """Return a move; ``at`` is the number of the move of the old program that it is for."""
    is_joint = move.kind is MoveKind.JOINT
    speed = {"speed_%": 100 * move.speed} if is_joint else {"speed_mm_per_s": 1e3 * move.speed}
    kind, rounded = str(move.kind), {key: _rounded(value) for key, value in speed.items()}
    return {"at": index + 1, "kind": kind, "to": move.target, **rounded}


def _pair(pair: PairClearance | None) -> dict[str, Any] | None:
    """Return a pair with its guaranteed clearance, rounded down; 0 where it touches."""
    if pair is None:
        return None
    kept = 0.0 if pair.clearance.touches else pair.clearance.lower
    return {
        "piece": pair.piece,
        "body": pair.body,
        "touches": pair.clearance.touches,
        "guaranteed_mm": float(np.floor(1e6 * kept) / 1e3),
        "margin_mm": _rounded(1e3 * pair.margin),
    }


def _axes(cell: Cell, q: Array) -> list[float]:
    scale = np.where(cell.axes.prismatic, 1e3, np.degrees(1.0))
    return [_rounded(value) for value in q * scale]


def _rounded(value: float) -> float:
    return round(float(value), 4) + 0.0
