"""The chart's axis: by time, or with equal width for each move; zoomed and panned. No drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from pathsim.scene.records import MoveBand

#: Steps between ticks, s.
_STEPS = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0)


class AxisMode(StrEnum):
    """How wide a move is on the chart."""

    TIME = "time"
    MOVES = "moves"


@dataclass(frozen=True)
class Zoom:
    """The part of the axis that is shown, in shares of the whole."""

    start: float = 0.0
    end: float = 1.0

    #: Nearest look: the whole is so many times as wide as what is shown.
    MOST = 200.0

    def about(self, share: float, factor: float) -> Zoom:
        """Zoom so that what stands at ``share`` of the whole stays where it is drawn."""
        width = float(np.clip((self.end - self.start) / factor, 1 / self.MOST, 1.0))
        inside = (share - self.start) / (self.end - self.start)
        return _inside(share - inside * width, width)

    def moved(self, by: float) -> Zoom:
        """Pan by a share of what is shown."""
        width = self.end - self.start
        return _inside(self.start + by * width, width)

    def holding(self, share: float) -> Zoom:
        """Pan just so far that a place is shown."""
        if self.start <= share <= self.end:
            return self
        width = self.end - self.start
        return _inside(share - 0.1 * width if share > self.end else share - 0.9 * width, width)


WHOLE = Zoom()


def _inside(start: float, width: float) -> Zoom:
    start = float(np.clip(start, 0.0, 1.0 - width))
    return Zoom(start, start + width)


@dataclass(frozen=True)
class TimeAxis:
    """Times of the program on pixels from ``left`` to ``right``."""

    times: tuple[float, ...]
    shares: tuple[float, ...]
    zoom: Zoom
    left: float
    right: float

    def share(self, time: float) -> float:
        """Share of the whole axis at a time, s."""
        return float(np.interp(time, self.times, self.shares))

    def time_of(self, share: float) -> float:
        """Time, s, at a share of the whole axis."""
        return float(np.interp(share, self.shares, self.times))

    def x(self, time: float) -> float:
        """Pixel of a time; outside ``left`` and ``right`` where it is not shown."""
        inside = (self.share(time) - self.zoom.start) / (self.zoom.end - self.zoom.start)
        return self.left + inside * (self.right - self.left)

    def share_at(self, x: float) -> float:
        """Share of the whole axis at a pixel."""
        inside = float(np.clip((x - self.left) / (self.right - self.left), 0.0, 1.0))
        return self.zoom.start + inside * (self.zoom.end - self.zoom.start)

    def time_at(self, x: float) -> float:
        """Time, s, at a pixel."""
        return self.time_of(self.share_at(x))

    def clipped(self, start: float, end: float, least: float = 0.0) -> tuple[float, float] | None:
        """Pixels of a stretch as far as it is shown, at least ``least`` wide; None if it is not."""
        a, b = self.x(start), self.x(end)
        if b < self.left or a > self.right:
            return None
        if b - a < least:
            middle = (a + b) / 2
            a, b = middle - least / 2, middle + least / 2
        return max(a, self.left), min(b, self.right)

    def ticks(self, start: float, end: float, apart: float) -> list[float]:
        """Return round seconds between two times, at least ``apart`` px from each other."""
        scale = abs(self.x(end) - self.x(start)) / max(end - start, 1e-12)
        step = next((s for s in _STEPS if s * scale >= apart), None)
        if step is None:
            return []
        return [float(k * step) for k in range(int(np.ceil(start / step - 1e-9)),
                                               int(np.floor(end / step + 1e-9)) + 1)]  # fmt: skip


def axis_of(
    bands: Sequence[MoveBand], mode: AxisMode, zoom: Zoom, left: float, right: float
) -> TimeAxis:
    """Return the axis of a program's moves. A move that takes no time has no width in either."""
    ends = [bands[0].start, *(band.end for band in bands)]
    lasting = [1.0 if b > a else 0.0 for a, b in pairwise(ends)]
    if mode is AxisMode.MOVES and sum(lasting) > 0:
        shares = np.concatenate([[0.0], np.cumsum(lasting)]) / sum(lasting)
    else:
        whole = ends[-1] - ends[0]
        shares = (np.array(ends) - ends[0]) / whole if whole > 0 else np.linspace(0, 1, len(ends))
    return TimeAxis(tuple(ends), tuple(float(s) for s in shares), zoom, left, right)


def spread(places: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Move rising places as little as needed so that neighbours are ``apart`` from each other.

    All stay between ``low`` and ``high`` as far as there is room; else they share it evenly.
    """
    count = len(places)
    if count == 0:
        return []
    apart = min(apart, (high - low) / max(count - 1, 1))
    # Clusters of places that push each other stand about their mean.
    clusters: list[tuple[float, int]] = []  # mean of the first one's wish, how many
    for index, wanted in enumerate(places):
        clusters.append((wanted, 1))
        while len(clusters) > 1:
            (a, m), (b, n) = clusters[-2:]
            if a + m * apart <= b:
                break
            clusters[-2:] = [((a * m + (b - m * apart) * n) / (m + n), m + n)]
        assert sum(n for _, n in clusters) == index + 1  # noqa: S101 - every place is in one
    out: list[float] = []
    for first, number in clusters:
        out += [first + k * apart for k in range(number)]
    for k in range(count):
        out[k] = max(out[k], low + k * apart)
    for k in reversed(range(count)):
        out[k] = min(out[k], high - (count - 1 - k) * apart)
    return out
