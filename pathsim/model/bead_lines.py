"""Where a pass runs in the line of earlier beads: what both leave there is one bead.

Two passes may share all of their way, or a length of it alone: of a seam that goes on past the end
of an earlier one, of a repair, of lines that cross.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pathsim.transforms import Array, BoolArray

#: A pass that is laid nearer to an earlier one than this share of the root of its area, m, lies
#: within that bead: what both leave is one bead, as high and wide as their wire together makes it.
ONE_LINE = 0.5
#: A way is looked at in steps of so much, m, at most so many of them.
_STEP, _MOST = 5e-4, 4000
#: What is right at an end is past it, as a share of the last piece of a line.
_END = 1e-6


@dataclass(frozen=True, eq=False)
class Lain:
    """A bead, or what lies under it on a length of it: ``area`` m^2 along ``line (n, 3)`` m.

    From the ``first`` share of its pass's way to the ``last`` one.
    """

    area: float
    line: Array
    first: float = 0.0
    last: float = 1.0

    @property
    def near(self) -> float:
        """What is laid nearer to it than this lies within it, m."""
        return ONE_LINE * float(np.sqrt(self.area))


@dataclass(frozen=True)
class SharedRun:
    """From ``first`` to ``last`` share of its way a pass lies in beads of ``area`` m^2 in all."""

    first: float
    last: float
    area: float


def are_one_line(line: Array, other: Lain) -> bool:
    """Tell whether a pass along ``line (n, 3)`` and a bead share all of their way."""
    off = max(_off(line, other.line)[0].max(), _off(other.line, line)[0].max())
    return bool(off < other.near)


def runs_in(line: Array, beads: Sequence[Lain], below: float) -> tuple[SharedRun, ...]:
    """Return where a pass along ``line (n, 3)`` m lies in more than ``below`` m^2 of beads.

    Beside a bead, and not past its end: there each has its own. A run is told with the largest
    area that lies anywhere along it, and half a millimetre more at either end.
    """
    if not beads:
        return ()
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    count = min(int(np.ceil(lengths[-1] / _STEP)), _MOST) + 1
    shares = np.linspace(0.0, 1.0, max(count, 2))
    knots = lengths / lengths[-1]
    places = np.column_stack([np.interp(shares, knots, line[:, k]) for k in range(3)])
    under = np.zeros(len(shares))
    for bead in beads:
        off, is_past = _off(places, bead.line)
        under[(off < bead.near) & ~is_past] = np.maximum(
            under[(off < bead.near) & ~is_past], bead.area
        )
    more = under > below
    edges = np.flatnonzero(np.diff(np.concatenate([[False], more, [False]]).astype(int)))
    last = len(shares) - 1
    return tuple(
        SharedRun(
            float(shares[max(start - 1, 0)]),
            float(shares[min(end, last)]),
            float(under[start:end].max()),
        )
        for start, end in list(pairwise(edges.tolist()))[::2]
    )


def _off(places: Array, line: Array) -> tuple[Array, BoolArray]:
    """How far places ``(n, 3)`` are from a line through ``line (m, 3)``, m, and which are past it.

    Past: beyond its first or last place, and beside none of it.
    """
    starts, ways = line[:-1], np.diff(line, axis=0)
    size = np.maximum((ways**2).sum(axis=-1), np.finfo(float).tiny)
    off, is_past = np.empty(len(places)), np.empty(len(places), dtype=bool)
    last = len(starts) - 1
    for some in np.array_split(np.arange(len(places)), 1 + len(places) * len(starts) // 10**6):
        to = places[some, None] - starts
        share = (to * ways).sum(axis=-1) / size
        away = np.linalg.norm(to - np.clip(share, 0.0, 1.0)[..., None] * ways, axis=-1)
        nearest, rows = away.argmin(axis=1), np.arange(len(some))
        off[some] = away[rows, nearest]
        along = share[rows, nearest]
        before = (nearest == 0) & (along < _END)
        behind = (nearest == last) & (along > 1 - _END)
        is_past[some] = before | behind
    return off, is_past
