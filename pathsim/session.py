"""``Session``: checks of one cell as it is edited; everything that was worked out has one owner.

Engine, trees, moves, rooms beside seams and profiles are kept by content, so that after an edit
only what changed is laid out and measured. Nothing is kept by name or number: a session may be
given any cell at any time, and its answers are those of a session made anew.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from pathsim.check import CheckResult, Progress, checked_with
from pathsim.clearance import Engine
from pathsim.clearance.engine_choice import SharedCache, engine_for
from pathsim.clearance.profile import MoveRows, clearance_profile
from pathsim.clearance.records import ClearanceProfile
from pathsim.findings import Evidence, KeptRooms
from pathsim.findings.what_if import cannot_run
from pathsim.model import Cell
from pathsim.motion import MoveCache, Trajectory, plan_program
from pathsim.quick import Quick, least_clearance

#: Engines of so many cells are held; what they know stays in the cache that they share.
_ENGINES = 4
#: Profiles asked for again by the same result, as a window and a chart do.
_PROFILES = 4


class _KeptRows:
    """Profiles of moves by a hash of everything that decides them; at most so many."""

    def __init__(self, most: int = 300) -> None:
        self._most = most
        self._rows: dict[bytes, MoveRows] = {}

    def once(self, key: bytes, measure: Callable[[], MoveRows]) -> MoveRows:
        """Return what is kept under a key, measured now if nothing is."""
        if key not in self._rows:
            if len(self._rows) >= self._most:
                self._rows.clear()
            self._rows[key] = measure()
        return self._rows[key]


class Session:
    """Checks, profiles and quick evaluations of a cell as it is edited.

    Several threads may use one session; they wait for each other. An engine that is given answers
    for the cell that it was made for only, so a session chooses its engines itself.
    """

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self.clear()

    def __repr__(self) -> str:
        return f"Session({len(self._engines)} cells at hand)"

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle as a session that knows nothing: it answers the same, only later."""
        return (Session, ())

    def clear(self) -> None:
        """Forget everything; answers stay what they are."""
        with self._lock:
            self._shared, self._moves, self._rooms = SharedCache(), MoveCache(), KeptRooms()
            self._rows = _KeptRows()
            self._engines: list[tuple[Cell, Engine]] = []
            self._profiles: list[tuple[CheckResult, ClearanceProfile]] = []

    def engine(self, cell: Cell) -> Engine:
        """Return the engine that answers for a cell, with everything that the session knows."""
        with self._lock:
            for known, engine in self._engines:
                if known is cell:
                    return engine
            engine = engine_for(cell, self._shared)
            if not engine.note:  # else another one may be ready by the next time
                self._engines = [(cell, engine), *self._engines[: _ENGINES - 1]]
            return engine

    def near_engine(self, cell: Cell, cap: float) -> Engine:
        """Return an engine for a cell that tells nothing farther apart than ``cap`` m.

        It is quicker where only a margin is asked about, and shares all that the session knows.
        """
        with self._lock:
            return engine_for(cell, self._shared, cap)

    def plan(self, cell: Cell) -> Trajectory:
        """Return a cell's motion. Raises CannotCheck or MotionError as ``check`` does."""
        with self._lock:
            return plan_program(cell, self._moves)

    def check(self, cell: Cell, progress: Progress | None = None) -> CheckResult:
        """Check a cell. Raises CannotCheck or MotionError, see ``pathsim.check``."""
        with self._lock:
            return checked_with(cell, self.engine(cell), self._moves, self._rooms, progress)

    def evidence(self, result: CheckResult) -> Evidence:
        """Return what findings of a result are drawn from, to ask for more of them."""
        with self._lock:
            return Evidence(
                result.cell, result.trajectory, result.moves, self._rooms,
                self.engine(result.cell), self._moves,
            )  # fmt: skip

    def profile(self, result: CheckResult) -> ClearanceProfile:
        """Return the guaranteed clearance of a result over time; moves known are not asked anew."""
        with self._lock:
            for known, profile in self._profiles:
                if known is result:
                    return profile
            profile = clearance_profile(
                result.cell, result.trajectory, self.engine(result.cell), moves=result.moves,
                once=self._rows.once,
            )  # fmt: skip
            self._profiles = [(result, profile), *self._profiles[: _PROFILES - 1]]
            return profile

    def evaluate(self, cell: Cell) -> Quick:
        """Tell quickly by how much a program is clear: for sliders, scans and dragged points.

        Every pair on every move is measured, as guaranteed as in a check; findings are not drawn.
        Raises CannotCheck or MotionError when the program has no meaning as written.
        """
        with self._lock:
            trajectory = self.plan(cell)
            least = least_clearance(cell, trajectory, self.engine(cell))
        said = (cannot_run(cell, track) for track in trajectory.tracks)
        why_not = next(filter(None, said), "")
        unsure = [track.number for track in trajectory.tracks if track.sure_until is not None]
        if unsure:
            why_not = why_not or f"move {unsure[0]} may go on in another posture"
        if cell.shapeless_links or not cell.bodies or not least.move:
            why_not = why_not or "not all was measured: no bodies, or links without a shape"
        if any(bead.body is None for bead in cell.beads):
            why_not = why_not or "not all was measured: beads that are no bodies"
        return Quick(*least, why_not, trajectory.duration)
