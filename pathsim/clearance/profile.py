"""Guaranteed clearance over time, for charts and for colouring the path."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pathsim.clearance.measure import MoveClearance
from pathsim.clearance.reference import Look, ReferenceEngine
from pathsim.clearance.rules import (
    Standing,
    Stretch,
    cable_margin,
    may_touch,
    pairs_to_measure,
    standing_things,
    stretches,
)
from pathsim.model import Cell
from pathsim.motion import PATH_ERROR, MoveTrack, Trajectory
from pathsim.transforms import Array


@dataclass(frozen=True, eq=False)
class ClearanceProfile:
    """Clearance of the nearest pair over a program's time.

    ``t (n,)`` s, rising; the end of one move and the start of the next are two entries at one
    time. ``guaranteed (n - 1,)`` m holds for every moment of [t[k], t[k + 1]] and every pair
    that is measured there, capped; 0 where something touches; nan where two entries are one
    time (between moves) or a stretch was not checked. ``seen (n,)`` m is the exact
    distance of the nearest pair at t[k] (inf when beyond the cap), between ``piece[k]`` and
    ``body[k]`` (names, empty when beyond the cap; where two stretches meet, pairs of both
    count), at ``on_moving`` and ``on_standing`` ``(n, 3)`` in the world (nan when beyond the
    cap). ``move (n,)`` is the number of the move.
    ``margin (n - 1,)`` m is the margin of the nearest stretch; a cable's own where a cable
    decides ``guaranteed``.
    """

    t: Array
    guaranteed: Array
    seen: Array
    piece: tuple[str, ...]
    body: tuple[str, ...]
    on_moving: Array
    on_standing: Array
    move: NDArray[np.int64]
    margin: Array
    cap: float


def clearance_profile(
    cell: Cell,
    trajectory: Trajectory,
    engine: ReferenceEngine | None = None,
    longest_step: float = 0.05,
    moves: tuple[MoveClearance, ...] = (),
) -> ClearanceProfile:
    """Measure the nearest pair over time, at most ``longest_step`` s from look to look.

    Looks stand closer where things move fast and where the guaranteed number would
    otherwise fall far below what is seen. ``moves`` are the check's own results; with them
    no moment is said to be less clear than its whole move was proved to be.
    """
    used = ReferenceEngine(cell) if engine is None else engine
    parts = []
    things = standing_things(cell)
    for track in trajectory.tracks:
        known = next((move for move in moves if move.track is track), None)
        profile = _MoveProfile(cell, trajectory, track, things, used, known)
        parts.append(profile.rows(longest_step))
    rows = [part[0] for part in parts]
    guaranteed = [np.append(part[1], np.nan) for part in parts]
    margins = [np.append(part[2], np.nan) for part in parts]
    looks = [look for part in rows for look in part]
    numbers = [t.number for t, part in zip(trajectory.tracks, rows, strict=True) for _ in part]
    return ClearanceProfile(
        t=np.array([look.time for look in looks]),
        guaranteed=np.concatenate(guaranteed)[:-1],
        seen=np.array([look.seen for look in looks]),
        piece=tuple(look.piece for look in looks),
        body=tuple(look.body for look in looks),
        on_moving=np.array([look.on_moving for look in looks]),
        on_standing=np.array([look.on_standing for look in looks]),
        move=np.array(numbers, dtype=np.int64),
        margin=np.concatenate(margins)[:-1],
        cap=used.cap,
    )


class _Nearest(NamedTuple):
    """The nearest pair at one moment."""

    time: float
    seen: float
    piece: str
    body: str
    on_moving: Array
    on_standing: Array


_NOWHERE = np.full(3, np.nan)
#: The fastest piece travels at most this far from look to look, m.
_STEP_WAY = 0.005
_ROUNDS = 3


class _MoveProfile:
    """Looks at one move."""

    def __init__(
        self,
        cell: Cell,
        trajectory: Trajectory,
        track: MoveTrack,
        things: tuple[Standing, ...],
        engine: ReferenceEngine,
        known: MoveClearance | None,
    ) -> None:
        self.track, self.cap = track, engine.cap
        self._measure = engine.on(track)
        self._cell = cell
        self._stretches = stretches(cell, trajectory, track)
        self._pairs = pairs_to_measure(cell, track, things)
        self._ways = [self._measure.travel_sum(piece, thing) for piece, thing in self._pairs]
        gaps = [self._measure.gap(piece, thing) for piece, thing in self._pairs]
        self._gaps = np.array(gaps).reshape(len(gaps), len(track.t) - 1)
        measured = () if known is None else known.pairs
        near = () if known is None else known.noteworthy[len(known.pairs) :]
        self._rounded = [pair for pair in (*measured, *near) if pair.stretch.corner]
        self._own = [pair for pair in near if not pair.stretch.corner]
        self._proved = _proved(known)
        self._inside = {
            (p.piece, p.body, p.stretch.start) for p in measured if p.clearance.is_inside
        }
        self._distances: dict[tuple[int, float], Look] = {}

    def rows(self, longest_step: float) -> tuple[list[_Nearest], Array, Array]:
        """Return looks, and guaranteed clearance and margin between them."""
        times = self._times(longest_step)
        if len(times) == 1:
            return [self._nearest(times[0])], np.zeros(0), np.zeros(0)
        for _ in range(_ROUNDS):
            looks = [self._nearest(time) for time in times]
            guaranteed, nearest = self._guaranteed(times)
            seen = np.array([min(look.seen, self.cap) for look in looks])
            slack = np.minimum(seen[:-1], seen[1:]) - guaranteed
            coarse = slack > np.maximum(1e-3, 0.25 * np.minimum(seen[:-1], seen[1:]))
            coarse &= nearest >= 0  # more looks make no other bound tighter
            if not coarse.any():
                break
            inner = [np.linspace(times[k], times[k + 1], 5)[1:-1] for k in np.flatnonzero(coarse)]
            times = np.unique(np.concatenate([times, *inner]))
        looks = [self._nearest(time) for time in times]
        guaranteed, nearest = self._guaranteed(times)
        margins = np.array([self._margin(nearest[k], self._stretch(k, times))
                            for k in range(len(times) - 1)])  # fmt: skip
        return looks, guaranteed, margins

    def _times(self, longest_step: float) -> Array:
        t = self.track.t
        parts = [np.array([part.start, part.end]) for part in self._stretches]
        if t[-1] > t[0]:
            fastest = np.max(self._ways, axis=0) if self._ways else np.zeros(len(t))
            by_way = np.linspace(0, fastest[-1], int(np.ceil(fastest[-1] / _STEP_WAY)) + 1)
            parts.append(np.interp(by_way, fastest, t))
            count = int(np.ceil((t[-1] - t[0]) / longest_step))
            parts.append(np.linspace(t[0], t[-1], count + 1))
        times = np.unique(np.concatenate(parts))
        return np.asarray(times[np.concatenate([[True], np.diff(times) > 1e-9])])

    def _stretch(self, index: int, times: Array) -> Stretch:
        middle = (times[index] + times[index + 1]) / 2
        return next(part for part in self._stretches if part.start <= middle <= part.end)

    def _margin(self, pair: int, stretch: Stretch) -> float:
        """Margin asked for where ``pair`` is the nearest; -1: the arm itself, or none."""
        piece = self._pairs[pair][0] if pair >= 0 else None
        if piece is None or piece.cable is None:
            return stretch.margin(self._cell.margins)
        return cable_margin(self._cell, piece.cable)

    def _allowed(self, time: float) -> list[bool]:
        """Tell for each pair whether contact is allowed at ``time`` in every stretch there."""
        here = [part for part in self._stretches if part.start <= time <= part.end]
        return [all(may_touch(piece, thing, part) for part in here) for piece, thing in self._pairs]

    def _least(self, start: float, end: float) -> Array:
        """Cheap lower bound of each pair's distance over [start, end]."""
        if self._gaps.shape[1] == 0:
            return np.full(len(self._pairs), -np.inf)
        first, last = self._measure.segments(start, end)
        return np.asarray(self._gaps[:, first:last].min(axis=1))

    def _are_inside(self, stretch: Stretch) -> np.ndarray:
        """Tell for each pair whether the check found one inside the other on a stretch."""
        return np.array(
            [
                (piece.name, thing.name, stretch.start) in self._inside
                for piece, thing in self._pairs
            ],
            dtype=bool,
        )

    def _look(self, pair: int, time: float) -> Look:
        if (pair, time) not in self._distances:
            self._distances[pair, time] = self._measure.look(*self._pairs[pair], time)
        return self._distances[pair, time]

    def _nearest(self, time: float) -> _Nearest:
        """Exact distance of the nearest pair; farther pairs are ruled out by cheap bounds."""
        bounds, allowed = self._least(time, time), self._allowed(time)
        here = [part for part in self._stretches if part.start <= time <= part.end]
        inside = np.any([self._are_inside(part) for part in here], axis=0)
        # What lies inside has no distance, whatever its surfaces have.
        bounds = np.where(inside, -np.inf, bounds)
        best = _Nearest(time, np.inf, "", "", _NOWHERE, _NOWHERE)
        for pair in np.argsort(bounds, kind="stable"):
            if bounds[pair] >= min(best.seen, self.cap):
                break
            if allowed[pair]:
                continue
            piece, thing = self._pairs[pair]
            look = self._look(int(pair), time)
            distance = 0.0 if inside[pair] else look.distance
            if distance < min(best.seen, self.cap):
                best = _Nearest(
                    time, distance, piece.name, thing.name, look.on_moving, look.on_standing
                )
        return best

    def _guaranteed(self, times: Array) -> tuple[Array, NDArray[np.int64]]:
        """Lower bound over all pairs between looks (the reference engine's inequality).

        And which pair it is the bound of, -1 where it is none with what stands.
        """
        result = np.full(len(times) - 1, self.cap)
        nearest = np.full(len(times) - 1, -1)
        for k in range(len(times) - 1):
            start, end = float(times[k]), float(times[k + 1])
            stretch = self._stretch(k, times)
            inside = self._are_inside(stretch)
            bounds = np.where(inside, -np.inf, self._least(start, end))
            for pair in np.flatnonzero(bounds - PATH_ERROR < result[k]):
                piece, thing = self._pairs[pair]
                if may_touch(piece, thing, stretch):
                    continue
                if inside[pair]:
                    result[k], nearest[k] = 0.0, pair
                    break
                bound = self._bound(int(pair), start, end, float(bounds[pair]))
                proved = self._proved.get((piece.name, thing.name, stretch.start), 0.0)
                held = max(bound - PATH_ERROR, proved, 0.0)
                if held < result[k]:
                    result[k], nearest[k] = held, pair
            others = [
                pair.clearance.lower
                for pair in self._rounded
                if pair.stretch.start < end and start < pair.stretch.end
            ]
            # the arm against itself, where it is too near
            others += [
                pair.clearance.lower
                for pair in self._own
                if any(span.start <= end and start <= span.end for span in pair.spans)
            ]
            if min(others, default=np.inf) < result[k]:
                result[k], nearest[k] = min(others), -1
        return result, nearest

    def _bound(self, pair: int, start: float, end: float, cheap: float) -> float:
        ways = self._ways[pair]
        way = float(np.diff(np.interp([start, end], self.track.t, ways))[0])
        exact = (self._look(pair, start).distance + self._look(pair, end).distance - way) / 2
        return max(exact, cheap)


def _proved(known: MoveClearance | None) -> dict[tuple[str, str, float], float]:
    """Guaranteed clearance of each pair by stretch, from the check."""
    if known is None:
        return {}
    return {
        (pair.piece, pair.body, pair.stretch.start): pair.clearance.lower
        for pair in known.pairs
        if not pair.stretch.corner
    }
