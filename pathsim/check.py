"""``check(cell) -> CheckResult``: no file, no screen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from html import escape

import numpy as np
from numpy.typing import NDArray

from pathsim.caution import CAUTION
from pathsim.clearance import (
    Engine,
    LeftOut,
    MoveClearance,
    PairClearance,
    engine_for,
    measure_moves,
)
from pathsim.clearance.how_it_stands import table_at_zero
from pathsim.clearance.left_out import left_out
from pathsim.clearance.placement_tolerance import PlacementTolerance, placement_tolerances
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.records import ClearanceProfile
from pathsim.findings import Evidence, Finding, KeptRooms, Level, collect, describe_seams
from pathsim.findings.seam_on_part import SeamOnPart, seams_on_parts
from pathsim.model import Cell
from pathsim.motion import MoveCache, Trajectory, plan_program
from pathsim.records import FieldsOnly

Progress = Callable[[str, float], None]
_NAME = "O"
_ROW = [
    ("move", "i8"), ("piece", _NAME), ("body", _NAME), ("zone", _NAME), ("lower", "f8"),
    ("upper", "f8"), ("margin", "f8"), ("time", "f8"), ("start", "f8"), ("end", "f8"),
    ("of", _NAME),
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class CheckResult(FieldsOnly):
    """What a check found. ``moves`` has one entry a move of the program, in its order.

    ``seams`` describes each seam (weave, arc time, wire, bead, heat, torch), no verdict.
    ``engine``: which one measured; ``engine_note``: what a person must hear of that.
    ``seam_places``: where each seam lies on the parts, one entry a seam in the program's order.
    """

    cell: Cell
    trajectory: Trajectory
    moves: tuple[MoveClearance, ...]
    findings: tuple[Finding, ...]
    seams: tuple[Finding, ...]
    left_out: tuple[LeftOut, ...]
    tolerance: float
    cap: float
    engine: str = "reference"
    engine_note: str = ""
    seam_places: tuple[SeamOnPart, ...] = ()

    def __repr__(self) -> str:
        counts = [sum(f.level is level for f in self.findings) for level in Level]
        said = ", ".join(f"{n} {level}" for n, level in zip(counts, Level, strict=True))
        return f"CheckResult({self.cell.name!r}, {said})"

    @cached_property
    def clearances(self) -> NDArray[np.void]:
        """Every pair on every stretch that was measured, a row each, as a structured array.

        ``move`` (from 1), ``piece``, ``body``, ``zone``; ``lower`` m: guaranteed, 0 where it
        touches; ``upper`` m: a distance that was seen, inf where the pair is only known to be
        farther than ``cap``; ``margin`` m; ``time`` s of the closest moment, from the program's
        start; ``start``, ``end`` s of the stretch; ``of``: "scene", "own" (arm and table against
        themselves) or "wire" (wire and part by a weld, where only contact counts).
        """
        rows = [
            (pair.move, pair.piece, pair.body, str(pair.stretch.zone), pair.clearance.lower,
             pair.clearance.upper, pair.margin, pair.clearance.time, pair.stretch.start,
             pair.stretch.end, of)
            for move in self.moves
            for of, pairs in (("scene", move.pairs), ("own", move.own), ("wire", move.wire))
            for pair in pairs
        ]  # fmt: skip
        found = np.array(rows, dtype=_ROW)
        found.setflags(write=False)
        return found

    def profile(self) -> ClearanceProfile:
        """Return the guaranteed clearance over time; a ``Session`` that checked it is faster."""
        return clearance_profile(self.cell, self.trajectory, moves=self.moves)

    def _repr_html_(self) -> str:
        """Return the findings as a table, for notebooks: no scripts, all text escaped."""
        said = "Clear: every move keeps its margin." if self.is_clear else "Not clear."
        rows = "".join(
            f"<tr><td>{f.level}</td><td>{'' if f.move is None else f.move}</td>"
            f"<td>{escape(f.text)}</td></tr>"
            for f in self.findings
        )
        return (
            f"<p><b>{escape(self.cell.name)}</b>: {said}</p>"
            f"<table><tr><th>level</th><th>move</th><th>finding</th></tr>{rows}</table>"
            f"<p>{escape(CAUTION)}</p>"
        )

    @cached_property
    def placement(self) -> tuple[PlacementTolerance, ...]:
        """How far each body may be off before the program touches it."""
        return tuple(placement_tolerances(self.cell, self.moves))

    @property
    def is_clear(self) -> bool:
        """True when nothing asks to stop or to watch; notes do not count."""
        return not self.has(Level.WATCH)

    def has(self, level: Level) -> bool:
        """Tell whether a finding is at ``level`` or graver."""
        return any(finding.level.at_least(level) for finding in self.findings)

    @property
    def worst(self) -> PairClearance | None:
        """Pair with the least guaranteed clearance of the whole program."""
        candidates = [move.worst for move in self.moves if move.worst is not None]
        return min(
            candidates,
            key=lambda pair: (not pair.clearance.touches, pair.clearance.lower),
            default=None,
        )


def check(
    cell: Cell,
    *,
    engine: Engine | None = None,
    progress: Progress | None = None,
) -> CheckResult:
    """Plan the program, measure every pair on every move, and collect the findings.

    ``engine``: that of the cell, chosen when not given. ``progress(text, share 0..1)`` is called
    between pairs. Raises CannotCheck or MotionError when the program has no meaning as written.
    Whoever checks one cell again and again keeps a ``Session``.
    """
    used = engine_for(cell) if engine is None else engine
    return checked_with(cell, used, MoveCache(), KeptRooms(), progress)


def checked_with(
    cell: Cell, used: Engine, kept: MoveCache, rooms: KeptRooms, progress: Progress | None
) -> CheckResult:
    """Check a cell with what is kept: moves, rooms beside seams, and what the engine knows."""
    trajectory = plan_program(cell, kept)
    moves = measure_moves(cell, trajectory, used, progress)
    places = seams_on_parts(cell, trajectory)
    at_zero = table_at_zero(cell, trajectory, used)
    evidence = Evidence(
        cell, trajectory, moves, rooms, used, kept, seam_places=places, at_zero=at_zero
    )
    return CheckResult(
        cell,
        trajectory,
        moves,
        collect(evidence),
        describe_seams(evidence),
        left_out(cell, trajectory),
        used.tolerance,
        used.cap,
        used.name,
        used.note,
        places,
    )
