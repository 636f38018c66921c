"""Looks of the reference engine: exact distances at moments, and its bound in between."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance.engine import NearestSeen, Pair
from pathsim.motion import PATH_ERROR, MoveTrack
from pathsim.transforms import Array, BoolArray

if TYPE_CHECKING:
    from pathsim.clearance.reference.engine import Look, ReferenceEngine


class ReferenceSampler:
    """Several pairs on one move; every distance is measured once."""

    def __init__(self, engine: ReferenceEngine, track: MoveTrack, pairs: Sequence[Pair]) -> None:
        self._track, self._pairs, self._cap = track, list(pairs), engine.cap
        self._measure = engine.on(track)
        self._ways = [self._measure.travel_sum(*pair) for pair in self._pairs]
        gaps = [self._measure.gap(*pair) for pair in self._pairs]
        self._gaps = np.array(gaps).reshape(len(gaps), len(track.t) - 1)
        self._distances: dict[tuple[int, float], Look] = {}

    def nearest(self, times: Array, asked: BoolArray) -> NearestSeen:
        """Return the nearest pair at each moment; farther pairs are ruled out by cheap bounds."""
        found = NearestSeen.none(len(times))
        for k, time in enumerate(times):
            bounds = self._cheap(time, time)
            for pair in np.argsort(bounds, kind="stable"):
                if bounds[pair] >= min(found.distance[k], self._cap):
                    break
                if not asked[k, pair]:
                    continue
                look = self._look(int(pair), float(time))
                if look.distance < min(found.distance[k], self._cap):
                    found.pair[k], found.distance[k] = pair, look.distance
                    found.on_moving[k], found.on_standing[k] = look.on_moving, look.on_standing
        return found

    def least(
        self, times: Array, asked: BoolArray, proved: Array
    ) -> tuple[Array, NDArray[np.int64]]:
        """Lower bound between neighbouring moments (the reference engine's inequality)."""
        result = np.full(len(times) - 1, self._cap)
        nearest = np.full(len(times) - 1, -1)
        for k in range(len(times) - 1):
            start, end = float(times[k]), float(times[k + 1])
            cheap = self._cheap(start, end)
            for pair in np.flatnonzero(asked[k] & (cheap - PATH_ERROR < result[k])):
                bound = max(self._bound(int(pair), start, end), cheap[pair]) - PATH_ERROR
                held = max(bound, proved[k, pair], 0.0)
                if held < result[k]:
                    result[k], nearest[k] = held, pair
        return result, nearest

    def _cheap(self, start: float, end: float) -> Array:
        """Cheap lower bound of each pair's distance over [start, end]."""
        if self._gaps.shape[1] == 0:
            return np.full(len(self._pairs), -np.inf)
        first, last = self._measure.segments(start, end)
        return np.asarray(self._gaps[:, first:last].min(axis=1))

    def _look(self, pair: int, time: float) -> Look:
        if (pair, time) not in self._distances:
            self._distances[pair, time] = self._measure.look(*self._pairs[pair], time)
        return self._distances[pair, time]

    def _bound(self, pair: int, start: float, end: float) -> float:
        way = float(np.diff(np.interp([start, end], self._track.t, self._ways[pair]))[0])
        return (self._look(pair, start).distance + self._look(pair, end).distance - way) / 2
