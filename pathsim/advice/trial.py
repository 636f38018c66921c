"""Trying changes: quickly while searching, and wholly before anything is shown."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from pathsim.advice.change import Change, changed, origins
from pathsim.advice.compare import cured, new_notes, worsened
from pathsim.check import CheckResult
from pathsim.clearance import Engine
from pathsim.clearance.asked_pairs import AskedPair, AskedPairs
from pathsim.clearance.joint_pairs import engine_pairs
from pathsim.clearance.narrowing import narrowed
from pathsim.clearance.obstacle import obstacles
from pathsim.clearance.queries import queries_of
from pathsim.clearance.records import Clearance
from pathsim.errors import CannotCheck, MotionError
from pathsim.findings import Finding
from pathsim.findings.what_if import cannot_run, goes_like
from pathsim.model import Cell
from pathsim.motion import MoveTrack, Trajectory
from pathsim.session import Session

Found = TypeVar("Found")


@dataclass(frozen=True, eq=False)
class TrialResult:
    """How a change does on the moves that it changes.

    ``short``: the pair that is farthest below its margin, and its clearance; None when all keep
    theirs. ``why_not``: why the moves cannot be run at all; empty when they can.
    ``clearance``: the least guaranteed one of the changed moves, m.
    """

    change: Change
    short: tuple[AskedPair, Clearance] | None
    why_not: str
    clearance: float
    seconds: float

    @property
    def is_clear(self) -> bool:
        """True when the changed moves can be run and keep their margins."""
        return not self.why_not and self.short is None


class Evaluator:
    """Tries changes on one cell. Moves that stay as they are, are neither laid nor measured again.

    ``session``: what it knows of the cell is used, and kept for whoever asks next. ``before``: the
    check of the cell as it is, when that was made already.
    """

    def __init__(self, cell: Cell, session: Session, before: CheckResult | None = None) -> None:
        """Check the cell as it is; raises what ``check`` raises."""
        self.cell, self.session = cell, session
        self.before: CheckResult = session.check(cell) if before is None else before
        self.evidence = session.evidence(self.before)
        self._suspects: list[tuple[str, str]] = []
        self._full: dict[Change, CheckResult] = {}
        self._memo: dict[object, list[object]] = {}
        self.trials = 0

    def once(self, key: object, search: Callable[[], Iterable[Found]]) -> list[Found]:
        """Return what a search finds; several findings of one move ask for the same one."""
        if key not in self._memo:
            self._memo[key] = list(search())
        return self._memo[key]  # type: ignore[return-value]

    def try_out(self, change: Change) -> TrialResult:
        """Lay and measure the moves that a change makes otherwise, up to the first that fails."""
        self.trials += 1
        cell = changed(self.cell, change)
        try:
            trajectory = self.session.plan(cell)
        except (CannotCheck, MotionError) as error:
            return TrialResult(change, None, str(error), 0.0, 0.0)
        new = [track for track in trajectory.tracks if not self._is_known(track)]
        why_not = next(filter(None, (cannot_run(cell, track) for track in new)), "")
        if why_not:
            return TrialResult(change, None, why_not, 0.0, trajectory.duration)
        return self._measured(cell, change, trajectory, new)

    def _is_known(self, track: MoveTrack) -> bool:
        """Tell whether the program had a move that goes the same way."""
        return any(goes_like(track, old) for old in self.before.trajectory.tracks)

    def _measured(
        self, cell: Cell, change: Change, trajectory: Trajectory, new: list[MoveTrack]
    ) -> TrialResult:
        asked = queries_of(
            cell, trajectory, obstacles(cell), engine_pairs(cell, trajectory.tracks), new
        )
        engine = self.session.engine(cell)
        # Most changes fail as the one before did: its pair alone is asked about first.
        first = [asked[k] for k in _of_names(asked, self._suspects)]
        if first:
            worst = _surely_short(first, engine)
            if worst is not None:
                return TrialResult(change, worst, "", 0.0, trajectory.duration)
        found = narrowed(engine, asked, engine.min_distance(asked.queries))
        lower = np.array([c.lower for c in found])
        touches = np.array([c.touches for c in found], dtype=bool)
        is_short = np.flatnonzero(touches | (lower < asked.margins)).tolist()
        worst = _shortest_of([(asked[k], found[k]) for k in is_short])
        is_away = ~asked.is_own & (touches | ~asked.at_weld)
        if worst is not None and _names(worst[0]) not in self._suspects:
            self._suspects = [_names(worst[0]), *self._suspects[:2]]
        least = float(lower[is_away].min(initial=np.inf))
        return TrialResult(change, worst, "", least, trajectory.duration)

    def full(self, change: Change) -> CheckResult:
        """Check the whole changed program, with all findings."""
        if change not in self._full:
            cell = changed(self.cell, change)
            self._full[change] = self.session.check(cell)
        return self._full[change]

    def worsened(self, change: Change, after: CheckResult) -> list[Finding]:
        """Stop and watch findings that a change adds, or makes worse."""
        return worsened(self.before.findings, after.findings, origins(self.cell, change))

    def cured(self, change: Change, after: CheckResult) -> list[Finding]:
        """Stop and watch findings that are gone, or only notes, after a change."""
        return cured(self.before.findings, after.findings, origins(self.cell, change))

    def new_notes(self, change: Change, after: CheckResult) -> list[Finding]:
        """Return the notes that a change brings with it."""
        return new_notes(self.before.findings, after.findings, origins(self.cell, change))

    def harm(self, change: Change) -> list[Finding]:
        """Check the whole changed program and return what it adds or makes worse."""
        return self.worsened(change, self.full(change))


def _names(asked: AskedPair) -> tuple[str, str]:
    return asked.question.piece.name, asked.question.standing.name


def _of_names(asked: AskedPairs, names: list[tuple[str, str]]) -> list[int]:
    """Return the places of the questions about pairs of some names."""
    wanted = [
        number
        for number, (piece, standing) in enumerate(asked.queries.pairs)
        if (piece.name, standing.name) in names
    ]
    found: list[int] = np.flatnonzero(np.isin(asked.queries.pair, wanted)).tolist()
    return found


def _surely_short(asked: list[AskedPair], engine: Engine) -> tuple[AskedPair, Clearance] | None:
    """Return the pair farthest below its margin; None where all keep it, or may keep it."""
    found = engine.min_distance([one.question for one in asked])
    pairs = zip(asked, found, strict=True)
    return _shortest_of([(one, c) for one, c in pairs if c.touches or c.upper < one.margin])


def _shortest_of(pairs: list[tuple[AskedPair, Clearance]]) -> tuple[AskedPair, Clearance] | None:
    """Return which of some pairs that are below their margins is farthest below; None of none."""
    return min(pairs, key=lambda pair: pair[1].lower - pair[0].margin, default=None)


def runs_the_same_welds(before: CheckResult, after: CheckResult) -> bool:
    """Tell whether all seams are run as they were: their joint values, at all of their knots.

    A point without joint values could be come to in another posture than before.
    """
    welds = [[t for t in r.trajectory.tracks if t.move.is_fixed] for r in (before, after)]
    return len(welds[0]) == len(welds[1]) and all(
        goes_like(old, new) for old, new in zip(*welds, strict=True)
    )
