"""Writing proposals as a new cell, which stays only if it reads and checks as it should."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pathsim.advice import Evaluator, Proposal, changed, that_go_together
from pathsim.advice.proposal import count_grave
from pathsim.check import CheckResult
from pathsim.errors import NothingWritten
from pathsim.files.cell_writer import write_changed_cell
from pathsim.model import Cell, Move

#: How far joint values may be off by what is written of them, rad or m.
_WRITTEN = 1e-6


@dataclass(frozen=True, eq=False)
class WrittenCell:
    """A cell that was written. ``left``: proposals that do not go with the others."""

    text: str
    left: tuple[Proposal, ...]


def write_proposals(
    folder: Path, new: Path, evaluator: Evaluator, proposals: Sequence[Proposal]
) -> WrittenCell:
    """Write a copy of a cell folder with proposals, best first.

    Raises CannotCheck, and then nothing is left behind.
    """
    chosen, change, left = that_go_together(evaluator, list(proposals))
    if not chosen:
        raise NothingWritten("nothing was written: there is no proposal to write")
    checked: list[CheckResult] = []

    def verify(loaded: Cell) -> None:
        _require_same(changed(evaluator.cell, change), loaded)
        after = evaluator.session.check(loaded)
        worse = evaluator.worsened(change, after)
        if worse:
            raise NothingWritten(
                f"nothing was written: '{new.name}' did not check as it should: {worse[0].text}"
            )
        checked.append(after)

    write_changed_cell(
        folder, new, evaluator.cell, change.points, change.moves, change.instead, verify
    )
    points = ", ".join(f"'{name}'" for name in change.points) or "none, only a move"
    return WrittenCell(
        f"Written to '{new}', read back the same and checked: {count_grave(checked[0])} stop or "
        f"watch findings, {count_grave(evaluator.before)} before. Points written: {points}.",
        tuple(left),
    )


def _plainly(move: Move) -> tuple[object, ...]:
    """Return all of a move that has to be the same to the letter."""
    return (
        move.kind, move.target, move.via, move.arc_on, move.pauses, move.schedule, move.tack,
        move.along_weld, move.search, move.station, move.weave, move.joined, move.position,
        move.surfacing, move.wire_end, move.off_part,
    )  # fmt: skip


def _require_same(wanted: Cell, loaded: Cell) -> None:
    """Require that a cell reads as it was meant; raises CannotCheck with what differs."""
    pairs = zip(wanted.program.moves, loaded.program.moves, strict=False)
    for number, (a, b) in enumerate(pairs, start=1):
        same = _plainly(a) == _plainly(b)
        old, new = ((m.speed, m.wait, m.rounding, m.crater) for m in (a, b))
        if not same or not np.allclose(old, new, rtol=1e-4, atol=1e-7):
            raise NothingWritten(
                f"nothing was written: move {number} would not read as it was meant"
            )
    if len(wanted.program.moves) != len(loaded.program.moves):
        raise NothingWritten("nothing was written: the program would not read as it was meant")
    for name, point in wanted.points.items():
        other = loaded.points.get(name)
        q, read = point.q, None if other is None else other.q
        if q is None and read is None and other is not None:
            continue
        if q is None or read is None or np.abs(q - read).max() > _WRITTEN:
            raise NothingWritten(
                f"nothing was written: point '{name}' would not read as it was meant"
            )
