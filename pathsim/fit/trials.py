"""Explanations held against readings: fitted, with and without rows that are slips of the pen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pathsim.errors import ArmError
from pathsim.fit.by_inverse import rows_past_limits, ways_to_count, without_turns
from pathsim.fit.description import (
    Description,
    Reading,
    Residual,
    Rows,
    require_usable,
    residuals,
)
from pathsim.fit.explanations import Explanation
from pathsim.fit.solve import Things, fitted_numbers
from pathsim.transforms import Array

#: What a display rounds away and a tip is touched to.
CLOSE = 1e-3  # m
CLOSE_TURN = np.radians(0.2)
#: An explanation must leave this many numbers over: as many unknowns as knowns explain all.
_SPARE = 3
#: A row is a slip when it is so many times farther off than what is let pass, and than the others.
_SLIP = 4.0
#: So many rows must be left that agree; one row in so many may be a slip, but always one.
_LEFT, _ONE_IN = 3, 4
#: Rows are left out one by one for a shifted tool only where there are no more than this.
_MOST_ROWS = 40


@dataclass(frozen=True, eq=False)
class Candidate:
    """Things that explain the rows together, with their numbers and what is left over.

    ``slips``: rows that do not fit the others, and how far each is off; ``left`` is without them.
    """

    things: Things
    x: tuple[Array, ...]
    description: Description
    left: tuple[Residual, ...]
    slips: tuple[Residual, ...] = ()

    @property
    def price(self) -> int:
        """Return what it costs to believe."""
        return sum(thing.price for thing in self.things) + len(self.slips)

    @property
    def is_of_display(self) -> bool:
        """Tell whether only signs, zeros, coupling and slips explain: no tool, no frame."""
        return all(thing.kind in ("sign", "zero", "coupling") for thing in self.things)

    @property
    def words(self) -> tuple[str, ...]:
        """Return each thing in words."""
        arm = self.description.arm
        return tuple(t.words(arm, x) for t, x in zip(self.things, self.x, strict=True))


def worst(left: Sequence[Residual]) -> tuple[float, float]:
    """Largest distance (m) and turn (rad) of rows."""
    turns = [r.turn for r in left if r.turn is not None]
    return max((r.distance for r in left), default=0.0), max(turns, default=0.0)


@dataclass(frozen=True, eq=False)
class Trials:
    """Rows and a description, and what is close enough."""

    description: Description
    rows: tuple[Reading, ...]
    close: float
    close_turn: float

    def is_close(self, left: Sequence[Residual]) -> bool:
        """Tell whether what is left over is no more than is let pass."""
        distance, turn = worst(left)
        return distance <= self.close and turn <= self.close_turn

    def size(self, candidate: Candidate) -> float:
        """Sum of squares of what a candidate leaves, m^2."""
        ratio = self.close / self.close_turn
        return float(sum(r.distance**2 + (ratio * (r.turn or 0.0)) ** 2 for r in candidate.left))

    def rows_past(self, candidate: Candidate) -> int:
        """Count rows past a joint limit by a candidate, its slips not counted."""
        return rows_past_limits(candidate.description, self._without(candidate.slips))

    def best_first(self, found: Sequence[Candidate]) -> tuple[Candidate, ...]:
        """Each once, those without slips first; none past a limit where another is not."""
        past = [self.rows_past(c) for c in found]
        once: dict[tuple[object, ...], Candidate] = {}
        for candidate, count in zip(found, past, strict=True):
            if count == min(past):
                key = (frozenset(candidate.things), tuple(r.line for r in candidate.slips))
                once.setdefault(key, candidate)
        return tuple(sorted(once.values(), key=lambda c: (len(c.slips), self.size(c))))

    def fitted(self, combinations: Sequence[Things]) -> list[Candidate]:
        """Fit combinations whose numbers the rows determine."""
        return self.fitted_to(combinations, self.rows)

    def fitted_to(
        self,
        combinations: Sequence[Things],
        rows: Sequence[Reading],
        starts: Sequence[Array] | None = None,
    ) -> list[Candidate]:
        """Fit combinations to some of the rows; those that they do not determine are left out."""
        stacked = Rows.of(rows)
        known = 6 * len(stacked.posed) + sum(3 * (len(group) - 1) for group in stacked.groups)
        sized: dict[int, list[int]] = {}
        for k, things in enumerate(combinations):
            count = sum(t.numbers for t in things)
            if count + _SPARE <= known:
                sized.setdefault(count, []).append(k)
        result: dict[int, Candidate] = {}
        for places in sized.values():
            given = None if starts is None else [starts[k] for k in places]
            fits = fitted_numbers(
                self.description, stacked, [combinations[k] for k in places],
                self.close / self.close_turn, self.close, given,
            )  # fmt: skip
            for k, x in zip(places, fits, strict=True):
                if x is not None:
                    result[k] = self._candidate(combinations[k], x, rows)
        return [result[k] for k in sorted(result)]

    def _candidate(self, things: Things, x: Array, rows: Sequence[Reading]) -> Candidate:
        splits = np.cumsum([thing.numbers for thing in things])[:-1]
        parts = list(np.split(_wrapped(things, x), splits)) if things else []

        def applied() -> Description:
            changed = self.description
            for thing, part in zip(things, parts, strict=True):
                changed = thing.applied(changed, part)
            return changed

        changed = applied()
        for k, thing in enumerate(things):
            if thing.kind == "zero":
                parts[k] = parts[k] + without_turns(changed, rows, thing.joint)
        changed = applied()
        return Candidate(things, tuple(parts), changed, residuals(changed, rows))

    def _without(self, slips: Sequence[Residual]) -> list[Reading]:
        lines = {slip.line for slip in slips}
        return [row for row in self.rows if row.line not in lines]

    @property
    def _most_slips(self) -> int:
        count = len(self.rows)
        return max(1, count // _ONE_IN) if count > _LEFT else 0

    def _with_slips(self, candidate: Candidate, slips: Sequence[Reading]) -> Candidate | None:
        """Name rows as slips, if they are far off where all others agree."""
        if not self.is_close(candidate.left):
            return None
        off = residuals(candidate.description, self.rows)
        lines = {row.line for row in slips}
        far = tuple(
            max((r for r in off if r.line == line), key=lambda r: r.distance)
            for line in sorted(lines)
        )
        least = max(
            worst(candidate.left)[0] / self.close, worst(candidate.left)[1] / self.close_turn
        )
        for slip in far:
            ratio = max(slip.distance / self.close, (slip.turn or 0.0) / self.close_turn)
            if ratio < _SLIP * max(1.0, least):
                return None
        return replace(candidate, slips=far)

    def slips_alone(self, before: Sequence[Residual]) -> list[Candidate]:
        """Rows that alone do not agree with the description as it is."""
        off = {r.line for r in before if not self.is_close([r])}
        if not self._most_slips > 0 or len(self.rows) <= _LEFT:
            return []
        groups = [[row] for row in self.rows if row.line in off]
        posed = {row.line for row in self.rows if row.T_shown_tcp is not None}
        if off <= posed and len(off) <= self._most_slips:
            groups = [[row for row in self.rows if row.line in off]]
        found = []
        for slips in groups:
            rest = [row for row in self.rows if row not in slips]
            try:
                require_usable(rest)
            except ArmError:
                continue
            alone = Candidate((), (), self.description, residuals(self.description, rest))
            named = self._with_slips(alone, slips)
            if named is not None:
                found.append(named)
        return found

    def counted_otherwise(self) -> list[Candidate]:
        """Signs, zeros and coupling of any joints together, with slips where there are some."""
        found = []
        for way in ways_to_count(self.description, self.rows, self._most_slips):
            if not way.things:
                continue
            slips = [self.rows[k] for k in way.outside]
            rest = [row for row in self.rows if row not in slips]
            if len(rest) < _LEFT:
                continue
            for candidate in self.fitted_to([way.things], rest, [way.x]):
                named = self._with_slips(candidate, slips)
                if named is not None:
                    found.append(named)
        return found

    def slip_and_one(self, things: Sequence[Explanation]) -> list[Candidate]:
        """Tool or frame shifted, and one row that does not fit besides."""
        if not _LEFT < len(self.rows) <= _MOST_ROWS:
            return []
        found = []
        for slip in self.rows:
            rest = [row for row in self.rows if row is not slip]
            if len(rest) <= _LEFT:
                continue
            try:
                require_usable(rest)
            except ArmError:
                continue
            for candidate in self.fitted_to([(thing,) for thing in things], rest):
                named = self._with_slips(candidate, [slip])
                if named is not None:
                    found.append(named)
        return found


def refitted(
    description: Description, rows: Sequence[Reading], candidate: Candidate
) -> Description | None:
    """Return the description with a candidate's things fitted to ``rows``; None if undetermined."""
    trials = Trials(description, tuple(rows), CLOSE, CLOSE_TURN)
    start = np.concatenate([np.zeros(0), *candidate.x])
    found = trials.fitted_to([candidate.things], rows, [start])
    return found[0].description if found else None


def _wrapped(things: Things, x: Array) -> Array:
    """Turn zeros into (-pi, pi]; other numbers stay."""
    wrapped, place = np.array(x), 0
    for thing in things:
        if thing.kind == "zero":
            wrapped[place] = np.pi - np.mod(np.pi - wrapped[place], 2 * np.pi)
        place += thing.numbers
    return wrapped
