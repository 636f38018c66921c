"""How far each body may stand off its place before the program touches it.

Let everything that passes a body stay at least d from it over the whole program. Shifted by less
than d in any direction, each of its points moves by less than d, so that nothing can reach it.
Turned by an angle a about any axis through a place, a point at distance r from that place moves
by ``2 r sin(a / 2)``; with R the farthest point of the body, turns below ``2 asin(d / (2 R))``
move no point by d. The two hold one at a time, not both together.

d is the least guaranteed clearance over all moves and pairs, never a distance that was only seen.
Contact that a rule allows (the wire at the weld) is not in it: where the weld is, is another
question, and the seam is missed long before anything touches.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from pathsim.clearance.measure import MoveClearance, PairClearance
from pathsim.model import Cell


@dataclass(frozen=True)
class PlacementTolerance:
    """How far a body may be off: ``shift`` m in any direction, or ``turn`` rad about its frame.

    ``is_at_least``: nothing comes nearer than what is told apart, so it may be more. ``nearest``:
    what comes that near. ``unknown``: why there is no number; then shift and turn are nan.
    """

    body: str
    shift: float
    turn: float
    is_at_least: bool
    nearest: str
    unknown: str = ""


def placement_tolerances(
    cell: Cell, moves: Iterable[MoveClearance]
) -> tuple[PlacementTolerance, ...]:
    """Return the tolerance of every body, the most delicate first, those without a number last."""
    measured = tuple(moves)
    found = [_tolerance(cell, index, measured) for index in range(len(cell.bodies))]
    return tuple(sorted(found, key=lambda t: (bool(t.unknown), t.shift if not t.unknown else 0.0)))


def _tolerance(cell: Cell, index: int, moves: tuple[MoveClearance, ...]) -> PlacementTolerance:
    body = cell.bodies[index]
    shapeless = [cell.link_name(link) for link in cell.shapeless_links]
    broken = [move.track.number for move in moves if move.track.fault is not None]
    pairs = [p for move in moves for p in move.pairs if body.name in (p.body, p.piece)]
    why = ""
    if broken:
        why = f"move {broken[0]} was not checked to its end"
    elif shapeless:
        why = f"{shapeless[0]} has no shape, so what it does to this body was not measured"
    elif not pairs:
        why = "it was measured against nothing"
    if why:
        return PlacementTolerance(body.name, np.nan, np.nan, False, "", why)
    worst = min(pairs, key=lambda pair: (not pair.clearance.touches, pair.clearance.lower))
    shift = 0.0 if worst.clearance.touches else worst.clearance.lower
    farthest = float(np.linalg.norm(body.mesh.vertices, axis=1).max())
    turn = 2 * np.arcsin(min(1.0, shift / (2 * farthest))) if farthest > 0 else np.pi
    return PlacementTolerance(
        body.name, shift, float(turn), worst.clearance.is_capped, _other(worst, body.name)
    )


def _other(pair: PairClearance, body: str) -> str:
    return pair.piece if pair.body == body else pair.body
