"""Which unit something may really be drawn in, when it is read in another one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from pathsim.units import TABLE

_NAMES = {"in": "inch"}
#: Ratios of common units, tried where nobody said which unit was read.
_RATIOS = (10.0, 25.4, 1000.0)


class Guess(NamedTuple):
    """What is ``factor`` times as large would fit.

    ``drawn`` and ``read``: the units meant and taken; both empty where it is only too large or
    too small.
    """

    factor: float
    drawn: str = ""
    read: str = ""


def guesses(unit: str) -> Iterator[Guess]:
    """Yield what lengths read in ``unit`` may have been meant as, likely ones first.

    First other units, then lengths that were turned from one unit into the other once too often
    before. Of an unknown unit (empty) all common ratios.
    """
    lengths = TABLE["length"]
    seen: list[float] = []
    if unit in lengths:
        for other, scale in lengths.items():
            factor = scale / lengths[unit]
            if other != unit:
                seen.append(factor)
                yield Guess(factor, _NAMES.get(other, other), _NAMES.get(unit, unit))
    for ratio in _RATIOS:
        for factor in (ratio, 1 / ratio):
            if not any(math.isclose(factor, known) for known in seen):
                yield Guess(factor)


def question(tried: Sequence[Guess]) -> str:
    """Ask about guesses of one thing: ``drawn in cm or inch, not mm``."""
    units = [guess for guess in tried if guess.drawn]
    if units:
        return f"drawn in {' or '.join(guess.drawn for guess in units)}, not {units[0].read}"
    factor = tried[0].factor
    ratio = max(factor, 1 / factor)
    return f"drawn {ratio:.4g} times too {'small' if factor > 1 else 'large'}"
