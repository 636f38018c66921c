"""The weave as a function of time: how far from the seam's centre, and to which side."""

from __future__ import annotations

import numpy as np

from pathsim.model import Pattern, Weave
from pathsim.model.weave import TravelInDwell
from pathsim.transforms import Array


class WeaveSchedule:
    """Where a weave stands at every moment of a seam that has ``travel`` s of way to go.

    A cycle goes from the centre to the left, dwells, back over the centre to the right, dwells,
    and back to the centre, with a dwell at the centre where one is asked for. The weave runs
    for as many half cycles (centre to centre; circles for whole ones) as fit; what is left
    stays on the centre, so that a seam starts and ends on it.
    """

    def __init__(self, weave: Weave, travel: float) -> None:
        self.weave = weave
        quarter, centre = weave.stroke / 2, weave.dwell_centre
        left = np.array([quarter, weave.dwell_left, quarter, centre])
        right = np.array([quarter, weave.dwell_right, quarter, centre])
        moving = np.array([1.0, 0.0, 1.0, 0.0])  # whether the weave moves in each part
        travels = moving if weave.travel_in_dwell is TravelInDwell.STANDS else np.ones(4)
        cycles = int(np.floor(travel / weave.travelling + 1e-9))
        rest, halves = travel - cycles * weave.travelling, 2 * cycles
        half = float(left @ travels)
        if weave.pattern is not Pattern.CIRCLE and half <= rest + 1e-12:
            halves, rest = halves + 1, rest - half
        self.half_cycles, rest = halves, max(rest, 0.0)
        parts = np.empty((halves, 4))
        parts[0::2], parts[1::2] = left, right
        self._times = _summed(parts, rest)
        self._gone = _summed(parts * travels, rest)
        parts[:] = moving * (np.pi / 2)
        self._turns = _summed(parts, 0.0)
        self._end = self._times[-2]

    @property
    def duration(self) -> float:
        """Seconds of the whole, dwells in which the travel stands still included."""
        return float(self._times[-1])

    @property
    def breaks(self) -> Array:
        """Times of corners and of the starts and ends of dwells."""
        times = self._times
        return np.asarray(times[np.append(True, times[1:] > times[:-1])])

    @property
    def phases(self) -> Array:
        """When each part starts, travel gone by and the weave's phase then, and their rates.

        ``(n, 5)``: time, travel, rate of travel, phase, rate of phase. Parts without length are
        left out.
        """
        length = self._times[1:] - self._times[:-1]
        there = np.flatnonzero(length > 0)
        length, found = length[there], np.empty((len(there), 5))
        found[:, 0] = self._times[there]
        for column, values in ((1, self._gone), (3, self._turns)):
            start = values[there]
            found[:, column], found[:, column + 1] = start, (values[there + 1] - start) / length
        return found

    @property
    def end(self) -> float:
        """When the weaving ends, s: the rest of the way is on the centre."""
        return float(self._end)

    def travelled(self, t: Array) -> Array:
        """Seconds of travel gone by ``(n,)`` at times ``t (n,)``; less where it stands still."""
        return np.asarray(np.interp(t, self._times, self._gone))

    def time_of(self, travelled: Array) -> Array:
        """First times ``(n,)`` at which so many seconds of travel ``(n,)`` are gone by."""
        gone, times = self._gone, self._times
        end = gone.searchsorted(np.asarray(travelled, float), side="left")
        end = np.minimum(np.maximum(end, 1), len(gone) - 1)
        start, begun = gone[end - 1], times[end - 1]
        way = gone[end] - start
        way[way <= 0] = 1.0
        share = np.minimum(np.maximum((travelled - start) / way, 0.0), 1.0)
        return np.asarray(begun + share * (times[end] - begun))


def _summed(parts: Array, rest: float) -> Array:
    """Return sums ``(4 n + 2,)`` of ``parts (n, 4)`` and a last one, from 0 on."""
    found = np.empty(parts.size + 2)
    found[0], found[1:-1], found[-1] = 0.0, parts.ravel(), rest
    return np.cumsum(found, out=found)
