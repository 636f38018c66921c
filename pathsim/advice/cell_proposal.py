"""A change of the cell, and not of the program, that was checked like any other proposal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from pathsim.check import CheckResult
from pathsim.findings import Finding
from pathsim.model import Cell
from pathsim.transforms import Array


class CellChangeKind(StrEnum):
    """What of a cell is changed."""

    CLAMP_MOVED = "clamp moved"
    CLAMP_TURNED = "clamp turned"
    TORCH_ANGLE = "torch angle"
    POSTURE = "posture"
    HOME = "home"


#: What is changed with the least ado comes first.
_EASY_FIRST = tuple(CellChangeKind)


@dataclass(frozen=True, eq=False)
class CellChange:
    """A cell that might be built or taught instead; ``cell``: as it would be.

    ``text``: what to do. ``points``: axes ``(axes,)`` by name of what is taught anew with it.
    """

    kind: CellChangeKind
    text: str
    cell: Cell
    points: Mapping[str, Array] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class CellProposal:
    """A change of the cell that cures something and worsens nothing, by a whole check.

    ``cures``: the findings that go. ``before``, ``after``: whole checks. ``evidence``: sentences
    with numbers.
    """

    change: CellChange
    cures: tuple[Finding, ...]
    before: CheckResult
    after: CheckResult
    evidence: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return f"CellProposal({self.change.kind}, cures {len(self.cures)})"

    @property
    def rank(self) -> tuple[int, int]:
        """Cures most first; then what is changed with the least ado."""
        return (-len(self.cures), _EASY_FIRST.index(self.change.kind))
