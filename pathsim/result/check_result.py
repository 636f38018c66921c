"""``CheckResult``: what a check found, and what scripts ask of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance import engine_for
from pathsim.clearance.profile import clearance_profile
from pathsim.clearance.records import ClearanceProfile
from pathsim.outputs import Output, OutputFile
from pathsim.result.arrays import clearances
from pathsim.result.as_json import result_as_json
from pathsim.result.html import as_html
from pathsim.result.record import ResultRecord


@dataclass(frozen=True, eq=False, repr=False)
class CheckResult(ResultRecord):
    """What a check found: a preview of the model supplied, not a safety function.

    Clear here does not mean safe. First run slow, arc off, hold-to-run: manual reduced speed with
    the enabling device held; automatic only with nobody inside the guard.

    ``cell`` and its ``trajectory``; ``moves``: one entry a move of the program, in its order.
    ``findings``: the gravest first. ``seams`` describes each seam (weave, arc time, wire, bead,
    heat, torch), no verdict. ``left_out``: what was not measured, and why. ``tolerance`` m: how
    narrow clearance intervals are; ``cap`` m: clearance above it is only said to be at least that.
    ``engine``: which one measured; ``engine_note``: what a person must hear of that.
    ``seam_places``: where each seam lies on the parts, one entry a seam in the program's order.

    It pickles and copies as its fields.
    """

    @cached_property
    def clearances(self) -> NDArray[np.void]:
        """All that was measured, as a read-only structured array: one row a pair and stretch.

        ``move`` from 1; ``of``: "scene" (bodies and the arm's base), "own" (the arm against
        itself) or "wire" (wire and part by a weld, or what is wanted to touch, where contact alone
        counts); ``piece``, ``body``: names; ``zone``: air, approach, seam, search or station;
        ``start``, ``end`` s.
        ``margin`` m asked for; ``lower`` m guaranteed at every moment of it; ``upper`` m really
        seen, at ``time`` s (of the program), between ``on_moving`` and ``on_standing`` ``(3,)`` m
        in the world. ``touches``: contact, or not to be told from it: then no distance counts.
        ``inside``: one lies wholly in the other. ``capped``: only said to be at least ``cap``;
        ``wide``: the search was given up, so ``lower`` may be far below the truth.

        ``upper`` is inf and ``time`` nan where no distance was seen (beyond the cap); points that
        nobody worked out are nan. ``lower`` is never nan. Pairs that are not measured have no row:
        look at ``left_out``. Compare ``lower`` with ``margin`` row by row, of "scene" and "own".
        """
        return clearances(self)

    def profile(self) -> ClearanceProfile:
        """Return the guaranteed clearance of the nearest pair over time, as arrays.

        Times in s, distances in m; ``ClearanceProfile`` says what inf and nan mean. Worked out
        once; a ``Session`` does it faster, since it still knows what its check measured.
        """
        return self._profile

    @cached_property
    def _profile(self) -> ClearanceProfile:
        engine = engine_for(self.cell)
        return clearance_profile(self.cell, self.trajectory, engine, moves=self.moves)

    def to_json(self) -> str:
        """Return the result as JSON text, the same as ``pathsim check --json`` writes.

        Lengths in mm, angles in deg, times in s; schema: ``pathsim/report/result.schema.json``.
        """
        return result_as_json(self)

    def write_json(self, path: str | Path) -> Path:
        """Write the JSON to a file, whole or not at all; return its path.

        An older result is replaced, any other file never. Raises CannotCheck.
        """
        place = OutputFile.free(Path(path), Output.RESULT, ())
        place.write(self.to_json())
        return place.path

    def _repr_html_(self) -> str:
        return as_html(self)
