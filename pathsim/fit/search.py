"""The cheapest explanation that removes the residual: every combination in order of price."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.fit.description import (
    Description,
    Reading,
    Residual,
    Rows,
    errors,
    require_usable,
    residuals,
)
from pathsim.fit.explanations import Explanation, candidates
from pathsim.transforms import Array

#: What a display rounds away and a tip is touched to.
CLOSE = 1e-3  # m
CLOSE_TURN = np.radians(0.2)
#: An explanation must leave this many numbers over: as many unknowns as knowns explain all.
_SPARE = 3
_HIGHEST_PRICE = 4
_MOST_THINGS = 3
#: Zeros are tried from each quarter turn, since a fit only finds its way from nearby.
_QUARTERS = (0.0, np.pi / 2, np.pi, -np.pi / 2)


@dataclass(frozen=True, eq=False)
class Candidate:
    """Things that explain the rows together, with their numbers and what is left over."""

    things: tuple[Explanation, ...]
    x: tuple[Array, ...]
    description: Description
    left: tuple[Residual, ...]

    @property
    def price(self) -> int:
        """Return what it costs to believe."""
        return sum(thing.price for thing in self.things)

    @property
    def words(self) -> tuple[str, ...]:
        """Return each thing in words."""
        arm = self.description.arm
        return tuple(t.words(arm, x) for t, x in zip(self.things, self.x, strict=True))


@dataclass(frozen=True, eq=False)
class Verdict:
    """What readings say of a description.

    ``agrees``: nothing to explain. ``explained``: all candidates of the lowest price that
    removes the residual; empty when none does. ``nearest``: the best that was found then.
    """

    before: tuple[Residual, ...]
    agrees: bool
    explained: tuple[Candidate, ...]
    nearest: Candidate | None


def worst(left: Sequence[Residual]) -> tuple[float, float]:
    """Largest distance (m) and turn (rad) of rows."""
    turns = [r.turn for r in left if r.turn is not None]
    return max((r.distance for r in left), default=0.0), max(turns, default=0.0)


def explain(
    description: Description,
    rows: Sequence[Reading],
    *,
    shows_tool: bool = True,
    close: float = CLOSE,
    close_turn: float = CLOSE_TURN,
    progress: Callable[[str, float], None] | None = None,
) -> Verdict:
    """Hold ``rows`` against a description and find the cheapest explanation of what is off.

    ``shows_tool`` False: poses are the flange's, so that no tool can be wrong. Raises ArmError
    when the rows cannot be held against anything.
    """
    require_usable(rows)
    before = residuals(description, rows)

    def is_close(left: Sequence[Residual]) -> bool:
        distance, turn = worst(left)
        return distance <= close and turn <= close_turn

    if is_close(before):
        return Verdict(before, agrees=True, explained=(), nearest=None)
    has_poses = any(row.T_shown_tcp is not None for row in rows)
    things = candidates(description.arm, with_tool=shows_tool, with_base=has_poses)
    stacked = Rows.of(rows)
    known = 6 * len(stacked.posed) + sum(3 * (len(group) - 1) for group in stacked.groups)
    found: list[Candidate] = []
    nearest: Candidate | None = None
    size = close / close_turn
    for price in range(1, _HIGHEST_PRICE + 1):
        combinations = list(_of_price(things, price))
        for count, combination in enumerate(combinations):
            if progress is not None:
                share = count / len(combinations)
                progress(f"explanations of price {price} of {_HIGHEST_PRICE}", share)
            if sum(t.numbers for t in combination) + _SPARE > known:
                continue
            candidate = _fitted(description, rows, combination, size, close)
            if candidate is None:
                continue
            if is_close(candidate.left):
                found.append(candidate)
            if nearest is None or _size(candidate.left, size) < _size(nearest.left, size):
                nearest = candidate
        if found:
            break
    found.sort(key=lambda c: _size(c.left, size))
    return Verdict(before, agrees=False, explained=tuple(found), nearest=nearest)


def _size(left: Sequence[Residual], size: float) -> float:
    return float(sum(r.distance**2 + (size * (r.turn or 0.0)) ** 2 for r in left))


def _of_price(things: list[Explanation], price: int) -> Iterator[tuple[Explanation, ...]]:
    """All combinations of that price that make sense together."""
    for count in range(1, _MOST_THINGS + 1):
        for combination in itertools.combinations(things, count):
            if sum(t.price for t in combination) != price:
                continue
            parts = [t.kind.split()[0] for t in combination]
            if any(parts.count(part) > 1 for part in ("tool", "base", "coupling")):
                continue
            yield combination


def _fitted(
    description: Description,
    rows: Sequence[Reading],
    things: tuple[Explanation, ...],
    size: float,
    close: float,
) -> Candidate | None:
    """Fit the numbers of a combination; None when the rows do not determine them."""
    from scipy.optimize import least_squares

    stacked = Rows.of(rows)
    splits = np.cumsum([thing.numbers for thing in things])[:-1]
    count = sum(thing.numbers for thing in things)

    def applied(x: Array) -> tuple[Description, list[Array]]:
        parts, changed = np.split(x, splits), description
        for thing, part in zip(things, parts, strict=True):
            changed = thing.applied(changed, part)
        return changed, parts

    def off(x: Array) -> Array:
        gaps = errors(applied(x)[0], stacked)
        gaps[:, 3:] *= size
        return np.asarray(gaps.ravel() / close)

    if count == 0:
        changed, parts = applied(np.zeros(0))
        return Candidate(things, tuple(parts), changed, residuals(changed, rows))
    best, best_cost = None, np.inf
    for start in _starts(things, off):
        fit = least_squares(off, start, method="trf", x_scale=0.1, max_nfev=25)
        if fit.cost < best_cost:
            best, best_cost = fit, fit.cost
    if best is None or not _determined(best.jac):
        return None
    changed, parts = applied(_wrapped(things, best.x))
    return Candidate(things, tuple(parts), changed, residuals(changed, rows))


def refitted(
    description: Description, rows: Sequence[Reading], things: tuple[Explanation, ...]
) -> Description | None:
    """Return the description with ``things`` fitted to ``rows``; None when not determined."""
    found = _fitted(description, rows, things, CLOSE / CLOSE_TURN, CLOSE)
    return None if found is None else found.description


def _starts(things: tuple[Explanation, ...], off: Callable[[Array], Array]) -> list[Array]:
    """Numbers to start from: the two best of all quarter turns of zeros."""
    choices = [
        _QUARTERS if thing.kind == "zero" and k == 0 else (0.0,)
        for thing in things
        for k in range(thing.numbers)
    ]
    starts = [np.array(choice) for choice in itertools.product(*choices)]
    starts.sort(key=lambda x: float((off(x) ** 2).sum()))
    return starts[:2]


def _determined(jacobian: Array) -> bool:
    """Tell whether every number shows: a move of 10 mm or 0.01 rad must be more than close."""
    smallest = float(np.linalg.svd(jacobian, compute_uv=False)[-1])
    return len(jacobian) >= jacobian.shape[1] and smallest * 0.01 > 1.0


def _wrapped(things: tuple[Explanation, ...], x: Array) -> Array:
    """Turn zeros into (-pi, pi]; other numbers stay."""
    wrapped, place = np.array(x), 0
    for thing in things:
        if thing.kind == "zero":
            wrapped[place] = np.pi - np.mod(np.pi - wrapped[place], 2 * np.pi)
        place += thing.numbers
    return wrapped
