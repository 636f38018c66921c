"""Where a clamp could stand instead: moved along the cell's axes, or turned where it stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from pathsim.advice.cell_proposal import CellChange, CellChangeKind
from pathsim.advice.cell_trial import body_is_clear, grave_moves
from pathsim.advice.trial import Evaluator
from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.findings import Finding
from pathsim.model import Body, Cell, Role
from pathsim.model.laid_out import places_of
from pathsim.model.places import Places
from pathsim.model.run import runs_shifted_in
from pathsim.transforms import Array, frozen, rotation_about, translation
from pathsim.units import degrees, millimetres

#: How far a clamp is moved, m, smallest first; how far it is turned, rad.
STEP, FARTHEST = 0.01, 0.15
TURNS = tuple(np.radians((15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 90.0, -90.0, 180.0)))
#: A clamp that is nearer to a part than this presses on it, m.
PRESSES = 1.5e-3
_WAYS = (("+x", 0, 1.0), ("-x", 0, -1.0), ("+y", 1, 1.0), ("-y", 1, -1.0))
#: Poses that differ by less are one, m and as a sine.
_SAME = 1e-7
_UP = np.array([0.0, 0.0, 1.0])


def clamp_of(cell: Cell, finding: Finding) -> Body | None:
    """Return the clamp that a finding is about; None where it is about something else."""
    clamps = (body for body in cell.bodies if body.role is Role.CLAMP)
    return next((clamp for clamp in clamps if clamp.name == finding.body), None)


def why_not_moved(cell: Cell, clamp: Body) -> str:
    """Say why a clamp is not moved here; empty where it is: runs would lie elsewhere with it."""
    ways = (translation(sign * STEP * np.eye(3)[k]) @ clamp.T_world_body for _, k, sign in _WAYS)
    return _why_not(cell, clamp, "moved", ways)


def why_not_turned(cell: Cell, clamp: Body) -> str:
    """Say why a clamp is not turned here; empty where it is: runs would lie elsewhere with it."""
    return _why_not(cell, clamp, "turned", (_turned(clamp, angle) for angle in TURNS[:2]))


def _why_not(cell: Cell, clamp: Body, how: str, places: Iterable[Array]) -> str:
    runs = runs_shifted_in(cell.program, clamp.name)
    if not runs or not any(_takes_points_along(cell, clamp, T) for T in places):
        return ""
    names = " and ".join(f"'{name}'" for name in runs)
    return (
        f"The {clamp.name} was not {how}: the run of {names} is shifted in its axes, and the welds "
        "would go with it. Give that run another frame, then ask again."
    )


def _takes_points_along(cell: Cell, clamp: Body, T_world_body: Array) -> bool:
    """Tell whether points lie elsewhere once a clamp stands at ``T_world_body (4, 4)``."""
    other = cell.with_body(replace(clamp, T_world_body=frozen(T_world_body)))
    poses = [[places.in_base(n) for n in cell.points] for places in map(_places, (cell, other))]
    return float(np.abs(np.array(poses[0]) - np.array(poses[1])).max()) > _SAME


def _places(cell: Cell) -> Places:
    return places_of(cell, cell.program.start)


def moved_clamps(
    evaluator: Evaluator, finding: Finding, clamp: Body
) -> Iterator[CellChange | None]:
    """Yield cells in which a clamp stands elsewhere; None: not clear.

    Where it still touches the part that it holds come first, the smallest moves first of both.
    """
    hold = Hold(evaluator.cell, clamp)
    moves = []
    for distance in np.arange(1, round(FARTHEST / STEP) + 1) * STEP:
        for words, column, sign in _WAYS:
            off = np.zeros(3)
            off[column] = sign * distance
            T = translation(off) @ clamp.T_world_body
            text = f"Move the {clamp.name} {millimetres(float(distance), 0)} towards {words}"
            moves.append((text, T, hold.touched(T)))
    for text, T, holds in sorted(moves, key=lambda move: len(move[2]) < len(hold.held)):
        said = f"{text}{_if_it_holds(hold.held, holds, 'there')}"
        yield from _if_clear(evaluator, finding, clamp, T, said, CellChangeKind.CLAMP_MOVED)


def turned_clamps(
    evaluator: Evaluator, finding: Finding, clamp: Body
) -> Iterator[CellChange | None]:
    """Yield cells with a clamp turned about the vertical through its place; None: not clear.

    Where it still touches the part that it holds come first.
    """
    hold = Hold(evaluator.cell, clamp)
    turns = []
    for angle in TURNS:
        T = _turned(clamp, angle)
        way = "" if np.isclose(abs(angle), np.pi) else (
            " anticlockwise seen from above," if angle > 0 else " clockwise seen from above,"
        )  # fmt: skip
        text = (
            f"Turn the {clamp.name} with its handle {degrees(abs(float(angle)), 0)}{way} about the "
            "vertical through its place"
        )
        turns.append((text, T, hold.touched(T)))
    for text, T, holds in sorted(turns, key=lambda turn: len(turn[2]) < len(hold.held)):
        said = f"{text}{_if_it_holds(hold.held, holds, 'so')}"
        yield from _if_clear(evaluator, finding, clamp, T, said, CellChangeKind.CLAMP_TURNED)


def _turned(clamp: Body, angle: float) -> Array:
    """Return where a clamp stands, turned about the vertical through its place ``(4, 4)``."""
    T = clamp.T_world_body.copy()
    T[:3, :3] = rotation_about(_UP, angle) @ T[:3, :3]
    return T


class Hold:
    """A clamp and the parts that it touches as it stands: those that it holds."""

    def __init__(self, cell: Cell, clamp: Body) -> None:
        self._clamp = Shape(clamp.mesh)
        self._parts: dict[str, Shape] = {}
        for body in cell.bodies:
            if body.role is Role.PART:
                self._parts[body.name] = Shape(body.mesh)
                self._parts[body.name].place(body.T_world_body)
        held = self.touched(clamp.T_world_body)
        self._parts = {name: self._parts[name] for name in held}

    @property
    def held(self) -> tuple[str, ...]:
        """Names of the parts that it holds."""
        return tuple(self._parts)

    def touched(self, T_world_clamp: Array) -> tuple[str, ...]:
        """Return those of them that it touches where it stands at ``T_world_clamp (4, 4)``."""
        self._clamp.place(T_world_clamp)
        return tuple(n for n, part in self._parts.items() if self._clamp.gap(part) <= PRESSES)


def _if_it_holds(held: Sequence[str], holds: Sequence[str], where: str) -> str:
    """Say whether a clamp still touches what it holds; left open where it touches no part now."""
    if not held:
        return f", if it still holds the part {where}."
    lost = [name for name in held if name not in holds]
    if not lost:
        return f". It still touches the {' and the '.join(holds)}; see that it holds."
    return (
        f". It is then off the {' and the '.join(lost)} and holds nothing {where}: the part needs "
        "another clamp."
    )


def _if_clear(
    evaluator: Evaluator,
    finding: Finding,
    clamp: Body,
    T_world_body: Array,
    text: str,
    kind: CellChangeKind,
) -> Iterator[CellChange | None]:
    cell = evaluator.cell
    there = replace(clamp, T_world_body=frozen(T_world_body))
    other = replace(cell, bodies=tuple(there if b is clamp else b for b in cell.bodies))
    is_clear = body_is_clear(evaluator, other, clamp.name, grave_moves(evaluator, finding))
    yield CellChange(kind, text, other) if is_clear else None
