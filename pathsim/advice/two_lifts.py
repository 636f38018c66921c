"""A retract and an approach point together, from one weld straight to the next, both low."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from pathsim.advice.change import Change, together
from pathsim.advice.lift_looks import point_at, seen_short_between
from pathsim.advice.lift_records import (
    HIGHEST,
    STEP,
    NoLift,
    RetractCandidate,
    heights_tried,
)
from pathsim.advice.proposal import off_habit
from pathsim.advice.sites import Site
from pathsim.advice.trial import Evaluator
from pathsim.transforms import Array
from pathsim.units import millimetres


def lifted_together(evaluator: Evaluator, pair: list[Site]) -> Iterator[RetractCandidate | NoLift]:
    """Look for a retract and an approach point together: from one weld straight to the next."""
    first, second = pair
    for words, direction in first.directions(evaluator.cell):
        other = dict(second.directions(evaluator.cell)).get(words)
        if other is None:
            continue
        ways = (direction, other)
        at = _two(evaluator, pair, ways)
        all_heights = [(height, height) for height in heights_tried()]
        short = seen_short_between(evaluator, pair, ways, all_heights)
        alike = zip(all_heights, short, strict=True)
        heights = next((h for h, is_short in alike if not is_short and at(*h)), None)
        if heights is None:
            limit = millimetres(HIGHEST, 0)
            yield NoLift(f"retract and approach together, {words}, up to {limit}")
            continue
        a, b = _lowered(at, heights)
        change = _two_changes(evaluator, pair, ways, (a, b))
        if change is None or evaluator.harm(change):
            yield NoLift(f"retract and approach together, {words}: something else gets worse")
            continue
        said = (
            f"Teach a point '{first.name}' {millimetres(a, 0)} {words} from '{first.weld_name}' "
            f"and a point '{second.name}' {millimetres(b, 0)} {words} from '{second.weld_name}'; "
            "leave and come down in straight lines."
        )
        yield RetractCandidate("legs", said, (a, b), change, _two_steps_below(pair, (a, b)),
                               2 * off_habit(words))  # fmt: skip


def _two_steps_below(pair: list[Site], heights: tuple[float, float]) -> tuple[str, ...]:
    """Say what was found out about the next lower heights of two points."""
    lower = [f"'{site.name}'" for site, h in zip(pair, heights, strict=True) if h > 1.5 * STEP]
    if not lower:
        return (f"Both are the lowest height tried, {millimetres(STEP, 0)}.",)
    return (f"With {' or '.join(lower)} {millimetres(STEP, 0)} lower it does not clear.",)


def _two(
    evaluator: Evaluator, pair: list[Site], ways: tuple[Array, Array]
) -> Callable[[float, float], bool]:
    """Return what tells whether two heights clear; each pair of heights is tried once."""
    known: dict[tuple[float, float], bool] = {}

    def clears(a: float, b: float) -> bool:
        if (a, b) not in known:
            change = _two_changes(evaluator, pair, ways, (a, b))
            known[a, b] = change is not None and evaluator.try_out(change).is_clear
        return known[a, b]

    return clears


def _two_changes(
    evaluator: Evaluator, pair: list[Site], ways: tuple[Array, Array], heights: tuple[float, float]
) -> Change | None:
    changes = []
    for site, way, height in zip(pair, ways, heights, strict=True):
        q = point_at(evaluator, site, way, height)
        if q is None:
            return None
        changes.append(site.change(evaluator.cell, q))
    return together(evaluator.cell, changes)


def _lowered(
    clears: Callable[[float, float], bool], heights: tuple[float, float]
) -> tuple[float, float]:
    """Lower either point by steps for as long as both still clear; neither may go lower then."""
    grid = heights_tried()
    i, j = (grid.index(height) for height in heights)
    lowered = True
    while lowered:
        lowered = False
        while i > 0 and clears(grid[i - 1], grid[j]):
            i, lowered = i - 1, True
        while j > 0 and clears(grid[i], grid[j - 1]):
            j, lowered = j - 1, True
    return grid[i], grid[j]
