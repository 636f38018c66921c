"""What a check found, as one frozen record."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from pathsim.clearance import LeftOut, MoveClearance, PairClearance
from pathsim.findings import Finding, Level
from pathsim.findings.placement_tolerance import PlacementTolerance, placement_tolerances
from pathsim.findings.seam_place import SeamOnPart
from pathsim.model import Cell
from pathsim.motion import Trajectory
from pathsim.records import FieldsOnly


@dataclass(frozen=True, eq=False)
class ResultRecord(FieldsOnly):
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
    def placement(self) -> tuple[PlacementTolerance, ...]:
        """How far each body may be off before the program touches it."""
        return tuple(placement_tolerances(self.cell, self.moves))

    @property
    def is_clear(self) -> bool:
        """True when nothing asks to stop or to watch; notes do not count.

        Never of a cell of which something is still an example (``Cell.to_do``).
        """
        return not self.cell.to_do and not self.has(Level.WATCH)

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
