"""The moments of a first run at which to stand by the stop, and the side to watch from."""

from __future__ import annotations

import numpy as np

from pathsim.check import CheckResult
from pathsim.clearance import PairClearance
from pathsim.findings import Finding, Level
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell
from pathsim.motion import MoveTrack
from pathsim.scene.camera_fit import Camera
from pathsim.units import guaranteed_millimetres

#: Nobody watches a run from within.
_OUTSIDE = "from outside the guard"
_SIDES = ("the front", "the front left", "the left", "behind on the left", "behind",
          "behind on the right", "the right", "the front right")  # fmt: skip


def delicate_moments(result: CheckResult, count: int = 3) -> tuple[Finding, ...]:
    """Return at most ``count`` moments in the order of the program.

    Stop and watch findings with a moment come first; then the places, one a move, at which the
    guaranteed clearance is nearest to its margin or below.
    """
    found = [f for f in result.findings if f.level.at_least(Level.WATCH) and _has_moment(f)]
    chosen = found[:count]
    if len(chosen) < count:
        taken = {finding.move for finding in chosen}
        near = [
            (pair.clearance.lower - pair.margin, move.track.number, pair)
            for move in result.moves
            if move.track.number not in taken and (pair := _nearest(move.noteworthy)) is not None
        ]
        for _, number, pair in sorted(near, key=lambda one: one[:2])[: count - len(chosen)]:
            chosen.append(_as_finding(pair, number))
    return tuple(sorted(chosen, key=lambda f: f.time or 0.0))


def way_into_move(cell: Cell, track: MoveTrack, time: float) -> float:
    """Return how far the wire's tip has come along a move at ``time`` s, m."""
    tips = cell.tips(track.q_at(np.linspace(float(track.t[0]), time, 400)))
    return float(np.linalg.norm(np.diff(tips, axis=0), axis=1).sum())


def _has_moment(finding: Finding) -> bool:
    return finding.move is not None and finding.time is not None


def side_in_words(cell: Cell, camera: Camera) -> str:
    """Say from where a camera looks, as somebody would stand in the shop: outside the guard.

    Sides are the arm's own: in front is where its base's x axis points, left is its y axis.
    """
    way = cell.T_world_base[:3, :3].T @ (camera.eye - camera.focus)
    flat = float(np.hypot(way[0], way[1]))
    height = np.degrees(np.arctan2(way[2], flat))
    if height > 75:
        return f"{_OUTSIDE}; the picture looks from above"
    side = _SIDES[int(np.round(np.arctan2(way[1], way[0]) / (np.pi / 4))) % 8]
    level = ", looking down" if height > 35 else ", looking up" if height < -15 else ""
    where = side if "behind" in side else f"{side} of the arm"
    return f"{_OUTSIDE}, {'' if 'behind' in side else 'at '}{where}{level}"


def _nearest(pairs: tuple[PairClearance, ...]) -> PairClearance | None:
    seen = [p for p in pairs if np.isfinite(p.clearance.upper)
            and p.clearance.on_moving is not None]  # fmt: skip
    return min(seen, key=lambda pair: pair.clearance.lower - pair.margin, default=None)


def _as_finding(pair: PairClearance, number: int) -> Finding:
    kept = guaranteed_millimetres(pair.clearance.lower)
    text = f"The {pair.piece} passes the {pair.body} with {kept} guaranteed."
    numbers = {"clearance": pair.clearance.lower, "margin": pair.margin}
    return Finding(
        Level.NOTE, FindingKind.NEAR_HIT, text, number, pair.clearance.time, pair.spans, pair.piece,
        pair.body, numbers,
    )  # fmt: skip
