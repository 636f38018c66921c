"""Knots in time, and what went wrong while laying them."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from pathsim.errors import MotionError
from pathsim.model import Move
from pathsim.motion.kept_values import NO_TIME, NO_WAY, Kept, Lazy, TipWay
from pathsim.motion.notes import PlanNote
from pathsim.motion.two_ways import NOT_TWO, TwoWays
from pathsim.records import FieldsOnly
from pathsim.transforms import Array

#: How far any point of the arm may be from its ideal place at any moment between knots, m.
#: Measured at three places of every segment while knots are laid; taken off every clearance.
PATH_ERROR = 2e-5


class FaultKind(StrEnum):
    """Why a move could not be laid to its end."""

    REACH = "out of reach"
    JUMP = "joint jump"
    POSTURE = "not in the posture asked for"
    NO_START = "its start cannot be told"


@dataclass(frozen=True)
class MoveFault:
    """A move stops being possible at ``share`` of its time; ``joint`` names the axis that jumps.

    ``is_search``: the inverse was searched for numerically and might have missed a solution.
    """

    kind: FaultKind
    share: float
    joint: str = ""
    is_search: bool = False


@dataclass(frozen=True, eq=False)
class MoveTrack(FieldsOnly):
    """One move as knots: ``t (n,)`` s from the program's start, ``q (n, axes)`` rad, m.

    Between knots every joint moves evenly in time. ``speed_ratio (n-1, axes)``: joint speed that
    the asked tip speed needs, as a share of the joint's limit; where above 1 the segment
    was slowed down to the limit. ``continuous``: starts where the move before ended.
    ``way``: of the tip; ``slow``: seconds at the cell's override; ``fork``: where the arm may go on
    in another posture. ``sure_until`` s: from this moment of the program on that was not ruled
    out, on this move or before it, and what is measured holds for the posture laid alone; None
    where it holds to the end. ``stands_for``: index of the program's move in whose place it is
    tried, apart from the program; None where it is that move itself. ``kept`` is the track's own,
    and only handed on to the same knots at another time (``at``): a track with other knots that
    is made from this one begins with nothing.
    """

    index: int
    move: Move
    start: str
    t: Array
    q: Array
    speed_ratio: Array
    planned_duration: float
    fault: MoveFault | None = None
    continuous: bool = True
    way: Lazy[TipWay] = NO_WAY
    slow: Lazy[float] = NO_TIME
    fork: Lazy[TwoWays | None] = NOT_TWO
    sure_until: float | None = None
    stands_for: int | None = None
    kept: Kept = field(init=False, default_factory=Kept)

    def __post_init__(self) -> None:
        self._require_times()
        if not np.isfinite(self.q).all():
            raise MotionError(f"move {self.number}: its knots are not finite")

    def _require_times(self) -> None:
        t = self.t
        # Two knots at one time would make speed and travel 0/0; nothing behind could be trusted.
        if len(t) != len(self.q) or not (t[1:] > t[:-1]).all():
            raise MotionError(f"move {self.number}: its knots do not rise in time")
        # What rises all along is finite in between, if it is at both ends.
        if len(t) and not (math.isfinite(t[0]) and math.isfinite(t[-1])):
            raise MotionError(f"move {self.number}: its knots are not finite")

    def __repr__(self) -> str:
        where = f"{self.start!r} > {self.move.target!r}"
        return f"MoveTrack({self.number}, {where}, {len(self.t)} knots, {self.duration:.3f} s)"

    def at(self, clock: float, index: int, move: Move, stands_for: int | None = None) -> MoveTrack:
        """Return this track, laid from time 0, as it starts at ``clock`` s, as another move."""
        track = self._changed(
            index=index, move=move, t=clock + self.t, sure_until=None, stands_for=stands_for
        )
        track._require_times()
        return track

    def sure_for(self, until: float) -> MoveTrack:
        """Return the same track, of which nothing is sure from the moment ``until`` s on."""
        return self._changed(sure_until=until)

    def _changed(self, **fields: Any) -> MoveTrack:
        """Return this track with these fields instead, and all that was kept of its knots.

        Its knots were looked at when it was made; a record made anew would look at them again.
        """
        track = object.__new__(MoveTrack)
        vars(track).update(vars(self), **fields)
        return track

    @property
    def number(self) -> int:
        """Number of the move as people count, from 1."""
        return self.index + 1

    @property
    def in_program(self) -> int:
        """Index of the move of the program that it is, or stands for."""
        return self.index if self.stands_for is None else self.stands_for

    @property
    def tip_length(self) -> float:
        """Length of the tip's way, m."""
        return self.way.value.length

    @property
    def detour(self) -> float:
        """Largest distance of the tip from the straight line of a joint move's ends, m."""
        return self.way.value.detour

    @property
    def detour_time(self) -> float:
        """When the tip is that far from it, s from the program's start."""
        return float(self.t[0] + self.way.value.when)

    @property
    def slow_duration(self) -> float:
        """Seconds of the move at the cell's override."""
        return self.slow.value

    @property
    def duration(self) -> float:
        """Seconds of the part that was laid."""
        return float(self.t[-1] - self.t[0])

    @property
    def travel_seconds(self) -> float:
        """Seconds in which it travels: without its crater time, its schedule and its wait."""
        if self.fault is not None:  # it never gets to them; it was laid from the travel on
            return self.duration
        return self.duration - self.move.standing

    @property
    def travel_start(self) -> float:
        """When it begins to travel, s from the program's start."""
        return float(self.t[0]) + (0.0 if self.fault is not None else self.move.lead)

    @property
    def arc_seconds(self) -> float:
        """Seconds with the arc on: a seam with its start and crater times, without gas alone."""
        if not self.move.arc_on:
            return 0.0
        if self.fault is not None:
            return self.duration
        return self.duration - self.move.wait - self.move.preflow - self.move.postflow

    @property
    def arc_start(self) -> float:
        """When the arc goes on, on a seam, s from the program's start."""
        return float(self.t[0]) + (0.0 if self.fault is not None else self.move.preflow)

    def share(self, time: float) -> float:
        """Share 0..1 of the whole move's time at ``time``."""
        whole = self.duration
        if self.fault is not None and 0 < self.fault.share < 1:
            whole /= self.fault.share
        return float((time - self.t[0]) / whole) if whole > 0 else 0.0

    def q_at(self, times: ArrayLike) -> Array:
        """Joint values ``(n, dof)`` at times ``(n,)`` inside the move."""
        return joints_at(np.atleast_1d(np.asarray(times, float)), self.t, self.q)


def joints_at(times: Array, t: Array, q: Array) -> Array:
    """Joint values ``(n, axes)`` at ``times (n,)`` between knots ``t (m,)``, ``q (m, axes)``.

    Times of knots rise. The sums of np.interp, to the last bit, for all axes at once.
    """
    if len(t) == 1:
        return np.repeat(q, len(times), axis=0)
    last = len(t) - 1
    if len(times) == 1:  # most often; half as long as what is below
        time = times[0]
        if time >= t[-1]:
            return q[-1:].copy()
        if time < t[0]:
            return q[:1].copy()
        k = min(int(t.searchsorted(time, side="right")), last) - 1
        one = q[k : k + 1]
        return np.asarray((q[k + 1] - one) / (t[k + 1] - t[k]) * (time - t[k]) + one)
    i = np.minimum(np.maximum(t.searchsorted(times, side="right"), 1), last) - 1
    start, begun = q[i], t[i]
    i += 1
    found = q[i] - start
    found /= (t[i] - begun)[:, None]
    found *= (times - begun)[:, None]
    found += start
    found[times < t[0]] = q[0]
    found[times >= t[-1]] = q[-1]  # what is not a number stays none
    return np.asarray(found)


@dataclass(frozen=True, eq=False)
class Trajectory(FieldsOnly):
    """The whole program as tracks, one a move, and the notes made while planning.

    Times in s from the program's start; joint values ``(n, axes)`` in rad, m on sliding axes.
    """

    tracks: tuple[MoveTrack, ...]
    notes: tuple[PlanNote, ...] = ()

    def __repr__(self) -> str:
        return f"Trajectory({len(self.tracks)} moves, {self.duration:.3f} s)"

    @cached_property
    def t(self) -> Array:
        """Times of all knots ``(n,)``, s; a knot shared by two moves stands twice."""
        return np.concatenate([track.t for track in self.tracks])

    @cached_property
    def q(self) -> Array:
        """Values of all axes at all knots ``(n, axes)``, rad or m."""
        return np.concatenate([track.q for track in self.tracks])

    @property
    def duration(self) -> float:
        """Time of the whole program, s."""
        return float(self.tracks[-1].t[-1]) if self.tracks else 0.0

    @property
    def slow_duration(self) -> float:
        """Time of the whole program at the cell's override, s."""
        return float(sum(track.slow_duration for track in self.tracks))

    def unsure_after(self, track: MoveTrack) -> tuple[MoveTrack, ...]:
        """Return the moves right behind ``track`` that may begin in another posture than laid."""
        behind = self.tracks[track.index + 1 :]
        return tuple(
            itertools.takewhile(
                lambda t: t.sure_until is not None and t.sure_until <= t.t[0], behind
            )
        )

    def track_at(self, time: float) -> MoveTrack:
        """Return the move that runs at ``time`` s; the last one after the end."""
        for track in self.tracks:
            if time <= track.t[-1]:
                return track
        return self.tracks[-1]

    def q_at(self, time: float) -> Array:
        """Values of all axes ``(axes,)`` at ``time`` s, rad or m."""
        return np.asarray(self.track_at(time).q_at(time)[0])
