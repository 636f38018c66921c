"""The weave as a function of time: how far from the seam's centre, and to which side."""

from __future__ import annotations

import numpy as np

from pathsim.each_once import each_once
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
        rest = travel - cycles * weave.travelling
        parts, halves = np.tile(np.concatenate([left, right]), cycles), 2 * cycles
        half = float(left @ travels)
        if weave.pattern is not Pattern.CIRCLE and half <= rest + 1e-12:
            parts, halves, rest = np.concatenate([parts, left]), halves + 1, rest - half
        self.half_cycles = halves
        rest = max(rest, 0.0)
        self._times = np.concatenate([[0.0], np.cumsum(np.append(parts, rest))])
        gone = np.append(parts * np.tile(travels, halves), rest)
        self._gone = np.concatenate([[0.0], np.cumsum(gone)])
        turn = np.tile(moving, halves) * np.pi / 2
        self._turns = np.concatenate([[0.0], np.cumsum(np.append(turn, 0.0))])
        self._end = self._times[-2]

    @property
    def duration(self) -> float:
        """Seconds of the whole, dwells in which the travel stands still included."""
        return float(self._times[-1])

    @property
    def breaks(self) -> Array:
        """Times of corners and of the starts and ends of dwells."""
        return each_once(self._times)

    @property
    def phases(self) -> Array:
        """When each part starts, travel gone by and the weave's phase then, and their rates.

        ``(n, 5)``: time, travel, rate of travel, phase, rate of phase. Parts without length are
        left out.
        """
        length = np.diff(self._times)
        there = np.flatnonzero(length > 0)
        columns = [self._times[there]]
        for values in (self._gone, self._turns):
            columns += [values[there], np.diff(values)[there] / length[there]]
        return np.stack(columns, axis=-1)

    @property
    def end(self) -> float:
        """When the weaving ends, s: the rest of the way is on the centre."""
        return float(self._end)

    def travelled(self, t: Array) -> Array:
        """Seconds of travel gone by ``(n,)`` at times ``t (n,)``; less where it stands still."""
        return np.asarray(np.interp(t, self._times, self._gone))

    def time_of(self, travelled: Array) -> Array:
        """First times ``(n,)`` at which so many seconds of travel ``(n,)`` are gone by."""
        end = np.searchsorted(self._gone, np.asarray(travelled, float), side="left")
        end = np.clip(end, 1, len(self._gone) - 1)
        gone, times = self._gone, self._times
        way = gone[end] - gone[end - 1]
        share = (travelled - gone[end - 1]) / np.where(way > 0, way, 1.0)
        return np.asarray(times[end - 1] + np.clip(share, 0, 1) * (times[end] - times[end - 1]))
