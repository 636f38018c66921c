"""Pairs whose margin lies inside their interval, asked about again and finer until it is decided.

An interval of half a millimetre is enough where the margin is not in it. Where it is, the pair
would be told as too near though it may well not be. So it is asked again with a cap just above
the margin: then the search only has to show that the pair stays beyond, and may stop wherever it
does. What stays open in the end is a matter of the path error, or nearer than _FINER says.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from operator import attrgetter

import numpy as np

from pathsim.clearance.asked_pairs import AskedPairs
from pathsim.clearance.engine import Bounds, Engine
from pathsim.clearance.records import Clearance

#: Widths of intervals asked for one after the other, as shares of what was asked for first.
_FINER = (1 / 4, 1 / 16, 1 / 64)
#: How far beyond the margin the cap is, in widths: what is beyond the cap is told to a width.
_BEYOND = 1.25


def narrowed(engine: Engine, asked: AskedPairs, found: Sequence[Clearance]) -> list[Clearance]:
    """Return answers as they are, but narrower where the margin is inside the interval.

    Lower ends only rise, upper ends only fall.
    """
    answers = list(found)
    # Most pairs are beyond the cap, and nobody has to look up the margin of those.
    upper = np.fromiter(map(attrgetter("upper"), answers), float, len(answers))
    seen = np.flatnonzero(upper < np.inf)
    near = [k for k in seen.tolist() if answers[k].inner is None]
    margins = dict(zip(seen.tolist(), asked.margins[seen].tolist(), strict=True)) if near else {}
    for share in _FINER:
        width = share * engine.tolerance
        near = [k for k in near if answers[k].lower < margins[k] <= answers[k].upper]
        of_margins: dict[float, list[int]] = defaultdict(list)
        for k in near:
            of_margins[margins[k]].append(k)
        for margin, group in of_margins.items():
            finer = engine.finer(width, margin + _BEYOND * width)
            for k, one in zip(
                group, finer.min_distance(asked.queries.at(np.array(group))), strict=True
            ):
                answers[k] = _both(answers[k], one)
    return answers


def narrowed_bounds(engine: Engine, asked: AskedPairs, found: Bounds) -> Bounds:
    """Return the same of bounds alone; records are made of those that the margin is inside."""
    lower, upper, is_inside = found
    is_open = (upper < np.inf) & ~is_inside
    if not is_open.any():
        return found
    open_now = np.flatnonzero(is_open & (lower < asked.margins) & (asked.margins <= upper))
    if not len(open_now):
        return found
    some = asked.at(open_now)
    finer = Bounds.of_records(narrowed(engine, some, engine.min_distance(some.queries)))
    lower, upper = lower.copy(), upper.copy()
    lower[open_now], upper[open_now] = finer.lower, finer.upper
    return Bounds(lower, upper, is_inside)


def _both(first: Clearance, second: Clearance) -> Clearance:
    """Return what two answers to one question say together: both are true."""
    seen = second if second.upper <= first.upper else first
    lower = max(first.lower, second.lower)
    # One that is beyond the second's cap is decided, and as wide as it was.
    is_wide = first.is_wide and (second.is_wide or second.upper == np.inf)
    return replace(seen, lower=lower, is_wide=is_wide, is_capped=first.is_capped)
