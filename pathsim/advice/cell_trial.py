"""Trying changes of the cell: quickly first, and wholly before anything is shown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from enum import Enum

import numpy as np

from pathsim.advice.cell_proposal import CellChange, CellProposal
from pathsim.advice.compare import cured, new_notes, worsened
from pathsim.advice.kinds import NEAR
from pathsim.advice.trial import Evaluator
from pathsim.check import CheckResult
from pathsim.clearance.joint_pairs import engine_pairs
from pathsim.clearance.narrowing import narrowed
from pathsim.clearance.obstacle import Obstacle, obstacles
from pathsim.clearance.queries import queries_of
from pathsim.errors import CannotCheck, MotionError
from pathsim.findings import Finding, Level
from pathsim.findings.what_if import cannot_run, goes_like
from pathsim.model import Cell
from pathsim.motion import MoveTrack
from pathsim.units import guaranteed_millimetres, millimetres

#: So many changes of one kind that clear quickly are checked wholly.
MOST_CHECKED = 3


class Looked(Enum):
    """How far a search came: nothing was there to try, some was tried, or all of it."""

    NOTHING = 0
    SOME = 1
    ALL = 2


def grave_moves(evaluator: Evaluator, finding: Finding) -> set[int]:
    """Return the indices of the moves with a contact or near-hit with a finding's body."""
    return {
        f.move - 1
        for f in evaluator.before.findings
        if f.kind in NEAR and f.level.at_least(Level.WATCH) and f.body == finding.body
        and f.move is not None
    }  # fmt: skip


def body_is_clear(evaluator: Evaluator, cell: Cell, name: str, indices: Iterable[int]) -> bool:
    """Tell whether a body that stands elsewhere keeps its margins on some moves."""
    trajectory = evaluator.session.plan(cell)
    tracks = [trajectory.tracks[index] for index in sorted(indices)]
    things = [thing for thing in obstacles(cell) if thing.name == name]
    return _keep(evaluator, cell, tracks, things, pairs=False)


def moves_are_clear(evaluator: Evaluator, cell: Cell, body: str | None = None) -> bool:
    """Tell whether all moves that a cell makes otherwise can be run, and keep their margins.

    ``body``: what is asked about first, since most changes fail at it.
    """
    try:
        trajectory = evaluator.session.plan(cell)
    except (CannotCheck, MotionError):
        return False
    known = evaluator.before.trajectory.tracks
    new = [t for t in trajectory.tracks if not any(goes_like(t, old) for old in known)]
    if any(cannot_run(cell, track) for track in new):
        return False
    first = [thing for thing in obstacles(cell) if thing.name == body]
    if first and not _keep(evaluator, cell, new, first, pairs=False):
        return False
    return _keep(evaluator, cell, new, obstacles(cell), pairs=True)


def _keep(
    evaluator: Evaluator,
    cell: Cell,
    tracks: list[MoveTrack],
    things: Iterable[Obstacle],
    *,
    pairs: bool,
) -> bool:
    """Tell whether some moves keep all their margins."""
    if not tracks:
        return False
    trajectory = evaluator.session.plan(cell)
    own = engine_pairs(cell, tracks) if pairs else ()
    asked = queries_of(cell, trajectory, tuple(things), own, tracks)
    engine = evaluator.session.engine(cell)
    found = narrowed(engine, asked, engine.min_distance(asked.queries))
    return all(
        not c.touches and (one.at_weld or c.lower >= one.margin)
        for one, c in zip(asked, found, strict=True)
    )


def checked_cell(evaluator: Evaluator, change: CellChange, finding: Finding) -> CellProposal | None:
    """Check a whole cell; None when a finding stays or anything gets worse.

    As with proposals of points: what cannot be told from worse is worse.
    """
    results = evaluator.once(("checked", change), lambda: _checks(evaluator, change.cell))
    if not results:
        return None
    before, after = evaluator.before, results[0]
    same = range(len(before.cell.program.moves))
    if worsened(before.findings, after.findings, same):
        return None
    listed = {id(f) for f in before.findings}  # hits told with a doubt are no findings of their own
    gone = [f for f in cured(before.findings, after.findings, same) if id(f) in listed]
    if finding not in gone:
        return None
    notes = [
        f"New with it is this note: {f.text}"
        for f in new_notes(before.findings, after.findings, same)
    ]
    evidence = (*_tightest(after, gone), *_what_else(before, after), *notes)
    return CellProposal(change, tuple(gone), before, after, evidence)


def _checks(evaluator: Evaluator, cell: Cell) -> Iterator[CheckResult]:
    """Yield the check of a cell, or nothing where its program has no meaning."""
    try:
        yield evaluator.session.check(cell)
    except (CannotCheck, MotionError):
        return


def _tightest(after: CheckResult, gone: list[Finding]) -> Iterable[str]:
    """Say what is left on the moves that were cured, with its margin."""
    numbers = sorted({f.move for f in gone if f.move is not None})
    pairs = [pair for number in numbers for pair in after.moves[number - 1].noteworthy]
    pair = min(pairs, key=lambda p: p.clearance.lower - p.margin, default=None)
    if pair is None:
        return
    moves = f"move{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"
    kept = pair.clearance.lower
    said = (
        f"over {millimetres(after.cap, 0)}" if kept >= after.cap else guaranteed_millimetres(kept)
    )
    yield (
        f"After: {said} guaranteed, margin {millimetres(pair.margin)} ({pair.piece} to "
        f"{pair.body}), on {moves}."
    )


def _what_else(before: CheckResult, after: CheckResult) -> Iterable[str]:
    counts = [
        sum(f.level.at_least(Level.WATCH) for f in result.findings) for result in (before, after)
    ]
    yield f"Stop and watch findings: {counts[0]} before, {counts[1]} after."
    seconds = after.trajectory.duration - before.trajectory.duration
    if not np.isclose(seconds, 0.0, atol=0.05):
        yield f"The program takes {abs(seconds):.1f} s {'longer' if seconds > 0 else 'shorter'}."


def first_that_serves(
    evaluator: Evaluator, finding: Finding, changes: Iterable[CellChange | None]
) -> tuple[CellProposal | None, Looked]:
    """Check changes that cleared quickly, in their order, until one serves; not without end.

    The second says how far the search came.
    """
    looked = checked = 0
    for change in changes:
        looked += 1
        if change is None:
            continue
        found = checked_cell(evaluator, change, finding)
        if found is not None:
            return found, Looked.SOME
        checked += 1
        if checked >= MOST_CHECKED:
            return None, Looked.SOME
    return None, Looked.ALL if looked else Looked.NOTHING
