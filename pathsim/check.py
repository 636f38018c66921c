"""``check(cell) -> CheckResult``: no file, no screen."""

from __future__ import annotations

from collections.abc import Callable

from pathsim.clearance import (
    Engine,
    engine_for,
    measure_moves,
)
from pathsim.clearance.how_it_stands import table_at_zero
from pathsim.clearance.left_out import left_out
from pathsim.findings import Evidence, KeptRooms, collect, describe_seams
from pathsim.findings.seam_on_part import seams_on_parts
from pathsim.model import Cell
from pathsim.motion import MoveCache, plan_program
from pathsim.records import without_collecting
from pathsim.result import CheckResult

__all__ = ["CheckResult", "Progress", "check", "checked_with"]

Progress = Callable[[str, float], None]


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
    # What a check makes it keeps to its end: looking for garbage in between only takes time.
    with without_collecting():
        return _checked(cell, used, kept, rooms, progress)


def _checked(
    cell: Cell, used: Engine, kept: MoveCache, rooms: KeptRooms, progress: Progress | None
) -> CheckResult:
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
