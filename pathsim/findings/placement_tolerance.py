"""How far each body may stand off its place before the program touches it.

Let everything that passes a body stay at least d from it over the whole program. Shifted by less
than d in any direction, each of its points moves by less than d, so that nothing can reach it.
Turned by an angle a about any axis through a place, a point at distance r from that place moves
by ``2 r sin(a / 2)``; with R the farthest point of the body, turns below ``2 asin(d / (2 R))``
move no point by d. The two hold one at a time, not both together.

d is the least guaranteed clearance over all moves and pairs, never a distance that was only seen.
Contact that a rule allows (the wire at the weld) is not in it: where the weld is, is another
question, and the seam is missed long before anything touches. What a body bears touches it by
design, and what stands beside it was never measured against it. Where any of the motion went
unmeasured there is no number at all.

Where the places of the two are only known so well, both may be off by that much together before
anybody shifts anything: that is taken off d, so that what is left may be added to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from pathsim.clearance import MoveClearance, PairClearance
from pathsim.findings.uncertain_places import off_by_name
from pathsim.model import Body, Cell, Role
from pathsim.transforms import Array, IntArray


@dataclass(frozen=True)
class PlacementTolerance:
    """How far a body may be off: ``shift`` m in any direction, or ``turn`` rad about its frame.

    ``is_at_least``: nothing comes nearer than what is told apart, so it may be more. ``nearest``:
    what comes that near. ``unknown``: why there is no number; then shift and turn are nan.
    ``excluded``: contact that is meant, and so is not in the number; empty when there is none.
    ``known_to`` m: how well the places of the two are known together; shift and turn are what is
    left beyond that.
    """

    body: str
    shift: float
    turn: float
    is_at_least: bool
    nearest: str
    unknown: str = ""
    excluded: str = ""
    known_to: float = 0.0


def placement_tolerances(
    cell: Cell, moves: Iterable[MoveClearance]
) -> tuple[PlacementTolerance, ...]:
    """Return the tolerance of every body, the most delicate first, those without a number last."""
    measured = tuple(moves)
    why, worst = _unmeasured(cell, measured), _worst_pairs(cell, measured)
    known = off_by_name(cell)
    found = [
        _tolerance(cell, body, measured, worst.get(body.name), why, known) for body in cell.bodies
    ]
    return tuple(sorted(found, key=lambda t: (bool(t.unknown), t.shift if not t.unknown else 0.0)))


def _worst_pairs(cell: Cell, moves: tuple[MoveClearance, ...]) -> dict[str, PairClearance]:
    """Return the nearest pair of each body by its name, the first of those that are as near."""
    known, tables = off_by_name(cell), [move.table for move in moves]
    shifts: list[Array] = []
    places: list[IntArray] = []
    number = {body.name: k for k, body in enumerate(cell.bodies)}
    of_names: dict[int, tuple[Array, IntArray]] = {}
    for table in tables:
        one = table.numbers
        if id(one.names) not in of_names:  # moves share them, and the tables hold them
            each = [_unknown(known, pair) for pair in one.names]
            at = [[number.get(name, -1) for name in pair] for pair in one.names]
            of_names[id(one.names)] = np.array(each), np.array(at, np.int64).reshape(-1, 2)
        unknown, at_bodies = of_names[id(one.names)]
        shifts.append(np.maximum(one.lower - unknown[one.name], 0.0))
        places.append(at_bodies[one.name])
    first = np.cumsum([0, *map(len, shifts)])
    shift = np.concatenate([np.zeros(0), *shifts])
    bodies = np.concatenate([np.zeros((0, 2), np.int64), *places])
    worst: dict[str, PairClearance] = {}
    for name, k in number.items():
        own = np.flatnonzero((bodies[:, 0] == k) | (bodies[:, 1] == k))
        if len(own):
            place = int(own[shift[own].argmin()])
            move = int(np.searchsorted(first, place, side="right")) - 1
            worst[name] = tables[move].record(place - int(first[move]))
    return worst


def _unknown(known: Mapping[str, float], pair: tuple[str, str]) -> float:
    """How far the two of a pair may be off their places together, m."""
    return sum(known.get(name, 0.0) for name in pair)


def _shift(pair: PairClearance, unknown: float) -> float:
    """How far either of a pair may be shifted before they touch, m, wherever they may stand."""
    found = pair.clearance
    return 0.0 if found.inner is not None else max(found.lower - unknown, 0.0)


def _tolerance(
    cell: Cell,
    body: Body,
    moves: tuple[MoveClearance, ...],
    worst: PairClearance | None,
    why: str,
    known: Mapping[str, float],
) -> PlacementTolerance:
    if why or worst is None:
        why = why or "it was measured against nothing"
        return PlacementTolerance(body.name, np.nan, np.nan, False, "", why)
    unknown = _unknown(known, (worst.piece, worst.body))
    shift = _shift(worst, unknown)
    farthest = float(np.linalg.norm(body.mesh.vertices, axis=1).max())
    turn = 2 * np.arcsin(min(1.0, shift / (2 * farthest))) if farthest > 0 else np.pi
    return PlacementTolerance(
        body.name, shift, float(turn), worst.clearance.is_capped, _other(worst, body.name),
        excluded=_excluded(cell, body, moves), known_to=unknown,
    )  # fmt: skip


def _unmeasured(cell: Cell, moves: tuple[MoveClearance, ...]) -> str:
    """Say what of the motion or of the arm was not measured; empty when all of it was."""
    for move in moves:
        if move.track.fault is not None:
            return f"move {move.track.number} was not checked to its end"
        if move.track.sure_until is not None:
            return f"move {move.track.number} may go on in a posture that was not measured"
    if cell.shapeless_links:
        name = cell.link_name(cell.shapeless_links[0])
        return f"{name} has no shape, so what it does to this body was not measured"
    before = 0.0
    for move in moves:
        after = move.track.move.rounding
        if before + after > move.track.tip_length > 0:
            return (
                f"what the arm does where roundings meet on move {move.track.number} is not known"
            )
        before = after
    return ""


def _excluded(cell: Cell, body: Body, moves: tuple[MoveClearance, ...]) -> str:
    """Name the contact that rules allow this body."""
    meant, stations = [], {station.body: station.bodies for station in cell.stations}
    if body.role is Role.PART and any(move.track.move.arc_on for move in moves):
        meant.append("the wire at the weld")
    for move in moves:
        search, station = move.track.move.search, move.track.move.station
        if search is not None and search.body == body.name:
            meant.append(f"the {search.piece} on its search")
        if body.name in stations.get(station or "", ()):
            meant.append("what its station may touch")
    meant = list(dict.fromkeys(meant))
    if body.bears:
        meant.append(f"the {'rail slide' if body.bears == 'arm' else body.bears} that it bears")
    return " and ".join(meant)


def _other(pair: PairClearance, body: str) -> str:
    return pair.piece if pair.body == body else pair.body
