"""The weave as a function of time: how far from the seam's centre, and to which side."""

from __future__ import annotations

import numpy as np

from pathsim.model import Pattern, Weave
from pathsim.transforms import Array


class WeaveSchedule:
    """Where a weave stands at every moment of a seam that travels for ``duration`` s.

    A cycle goes from the centre to the left, dwells, to the right, dwells, and back to the
    centre. The weave runs for as many half cycles (centre to centre) as fit; what is left,
    less than half a cycle, stays on the centre, so that a seam starts and ends on it.
    """

    def __init__(self, weave: Weave, duration: float) -> None:
        self.weave = weave
        quarter = weave.stroke / 2
        left = np.array([quarter, weave.dwell_left, quarter])
        right = np.array([quarter, weave.dwell_right, quarter])
        cycles = int(np.floor(duration / weave.period + 1e-9))
        rest = duration - cycles * weave.period
        steps = np.tile(np.concatenate([left, right]), cycles)
        halves = 2 * cycles
        if left.sum() <= rest + 1e-12:
            steps, halves = np.concatenate([steps, left]), halves + 1
        self.half_cycles = halves
        starts = np.concatenate([[0.0], np.cumsum(steps)])
        self._times = np.append(starts, max(duration, starts[-1]))
        self._end = starts[-1]

    @property
    def breaks(self) -> Array:
        """Times of corners and of the starts and ends of dwells."""
        return np.unique(self._times)

    def offsets(self, t: Array) -> Array:
        """Offset ``(n,)`` in m from the seam's centre at times ``t (n,)``; left is positive."""
        phase = np.clip(np.searchsorted(self._times, t, side="right") - 1, 0, None)
        last = len(self._times) - 2
        phase = np.minimum(phase, last)
        begin = self._times[phase]
        length = self._times[phase + 1] - begin
        x = np.clip((t - begin) / np.where(length > 0, length, 1.0), 0.0, 1.0)
        kind, side = phase % 3, np.where((phase // 3) % 2 == 0, 1.0, -1.0)
        if self.weave.pattern is Pattern.SINE:
            out, back = np.sin(np.pi / 2 * x), np.cos(np.pi / 2 * x)
        else:
            out, back = x, 1 - x
        shape = np.where(kind == 0, out, np.where(kind == 1, 1.0, back))
        return np.where(t >= self._end, 0.0, self.weave.amplitude * side * shape)
