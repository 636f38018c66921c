"""Where a clamp could stand instead: moved along the cell's axes, or turned where it stands."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from pathsim.advice.cell_proposal import CellChange, CellChangeKind
from pathsim.advice.cell_trial import body_is_clear, grave_moves
from pathsim.advice.trial import Evaluator
from pathsim.findings import Finding
from pathsim.model import Body, Cell, Role
from pathsim.model.run import frames_of_runs
from pathsim.transforms import Array, frozen, rotation_about, translation
from pathsim.units import degrees, millimetres

#: How far a clamp is moved, m, smallest first; how far it is turned, rad.
STEP, FARTHEST = 0.01, 0.15
TURNS = tuple(np.radians((15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 90.0, -90.0, 180.0)))
_WAYS = (("+x", 0, 1.0), ("-x", 0, -1.0), ("+y", 1, 1.0), ("-y", 1, -1.0))
_UP = np.array([0.0, 0.0, 1.0])


def clamp_of(cell: Cell, finding: Finding) -> Body | None:
    """Return the clamp that a finding is about; None where it is about something else.

    None too of one in whose axes a run is shifted: turned or moved it would take the run along.
    """
    frames = frames_of_runs(cell.program)
    return next(
        (b for b in cell.bodies if b.name == finding.body and b.role is Role.CLAMP
         and not {b.name, b.group} & frames), None,
    )  # fmt: skip


def moved_clamps(
    evaluator: Evaluator, finding: Finding, clamp: Body
) -> Iterator[CellChange | None]:
    """Yield cells in which a clamp stands elsewhere, the smallest moves first; None: not clear."""
    for distance in np.arange(1, round(FARTHEST / STEP) + 1) * STEP:
        for words, column, sign in _WAYS:
            off = np.zeros(3)
            off[column] = sign * distance
            text = (
                f"Move the {clamp.name} {millimetres(float(distance), 0)} towards {words}, if it "
                "still holds the part there."
            )
            yield from _if_clear(
                evaluator, finding, clamp, translation(off) @ clamp.T_world_body, text,
                CellChangeKind.CLAMP_MOVED,
            )  # fmt: skip


def turned_clamps(
    evaluator: Evaluator, finding: Finding, clamp: Body
) -> Iterator[CellChange | None]:
    """Yield cells with a clamp turned about the vertical through its place; None: not clear."""
    for angle in TURNS:
        T = clamp.T_world_body.copy()
        T[:3, :3] = rotation_about(_UP, angle) @ T[:3, :3]
        way = "" if np.isclose(abs(angle), np.pi) else (
            " anticlockwise seen from above," if angle > 0 else " clockwise seen from above,"
        )  # fmt: skip
        text = (
            f"Turn the {clamp.name} with its handle {degrees(abs(float(angle)), 0)}{way} about the "
            "vertical through its place, if it still holds the part so."
        )
        yield from _if_clear(evaluator, finding, clamp, T, text, CellChangeKind.CLAMP_TURNED)


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
