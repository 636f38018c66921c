"""Where a retract or an approach point may be put in, or stands too low."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pathsim.advice.change import Change, new_name
from pathsim.advice.trial import Evaluator
from pathsim.findings.places import lifted, lifted_each, plain_ways
from pathsim.findings.weld_places import is_air_point
from pathsim.model import Cell, Move, MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array

#: Speed of the straight air moves, where the program has none, m/s.
_SPEED = 0.1


@dataclass(frozen=True, eq=False)
class Site:
    """A point that could be put in or moved.

    ``base (axes,)``: where it would be at height 0. ``weld (axes,)`` and ``weld_name``: the end of
    the seam that it belongs to. ``is_new``: False when the point is there and stands too low.
    ``index``: the air move. ``air``: that move, where it has to be split for an approach.
    """

    kind: str
    base: Array
    weld: Array
    weld_name: str
    name: str
    is_new: bool
    index: int
    speed: float
    air: Move | None = None

    def at(self, cell: Cell, direction: Array, height: float) -> Array | None:
        """Return axes ``(axes,)`` at ``height`` m along ``direction`` from the base."""
        return lifted(cell, self.base, direction, height)

    def at_each(self, cell: Cell, direction: Array, heights: Sequence[float]) -> list[Array | None]:
        """Return the same at several heights, m."""
        return lifted_each(cell, self.base, direction, heights)

    def usual(self, cell: Cell, direction: Array, height: float) -> Array | None:
        """Return axes ``(axes,)`` at ``height`` m from the weld, as heights are usually told."""
        return lifted(cell, self.weld, direction, height)

    @property
    def is_at_weld(self) -> bool:
        """True when heights count from the weld: then a longer leg goes over the shorter one."""
        return np.array_equal(self.base, self.weld)

    def change(self, cell: Cell, q: Array) -> Change:
        """Return the change that puts the point at ``q (axes,)``."""
        if not self.is_new:
            return Change(cell, {self.name: q})
        if self.kind == "retract":
            leaves = Move(MoveKind.LINEAR, self.name, self.speed)
            return Change(cell, {self.name: q}, ((self.index, leaves),))
        assert self.air is not None  # noqa: S101 - a new approach point splits an air move
        there = replace(self.air, target=self.name, rounding=0.0, wait=0.0, pauses=(), line=None)
        down = Move(
            MoveKind.LINEAR, self.air.target, self.speed, wait=self.air.wait, pauses=self.air.pauses
        )
        return Change(cell, {self.name: q}, ((self.index, there),), ((self.index, down),))

    def directions(self, cell: Cell) -> list[tuple[str, Array]]:
        """Return the directions in which a point is looked for, with their names."""
        return plain_ways(cell, self.weld)


def sites(evaluator: Evaluator, track: MoveTrack) -> Iterator[Site]:
    """Say where a point may help an air move: behind the seam before it, before the one behind."""
    tracks, cell = evaluator.before.trajectory.tracks, evaluator.cell
    speed = straight_speed(tracks)
    before = tracks[track.index - 1] if track.index > 0 else None
    if before is not None and track.continuous:
        if before.move.at_work:
            yield Site("retract", track.q[0], track.q[0], before.move.target,
                       new_name(cell, "retract"), True, track.index, speed)  # fmt: skip
        elif is_air_point(cell, before.move.target) and _follows_seam(tracks, before):
            yield Site("retract", track.q[0], before.q[0], before.start,
                       before.move.target, False, track.index, speed)  # fmt: skip
    behind = tracks[track.index + 1] if track.index + 1 < len(tracks) else None
    target = track.move.target
    if track.move.kind is MoveKind.LINEAR and not track.move.is_fixed and track.continuous:
        # The straight leg itself: its far end may lie in another direction from the weld.
        if before is not None and before.move.at_work and is_air_point(cell, target):
            yield Site("retract", track.q[0], track.q[0], before.move.target,
                       target, False, track.index, speed)  # fmt: skip
        elif behind is not None and behind.move.at_work and is_air_point(cell, track.start):
            yield Site("approach", track.q[-1], track.q[-1], target,
                       track.start, False, track.index, speed)  # fmt: skip
            return
    if behind is None:
        return
    if behind.move.at_work and track.move.kind is MoveKind.JOINT:
        yield Site("approach", track.q[-1], track.q[-1], target,
                   new_name(cell, "approach"), True, track.index, speed, track.move)  # fmt: skip
    elif is_air_point(cell, target) and _leads_to_seam(tracks, behind):
        yield Site("approach", track.q[-1], behind.q[-1], behind.move.target,
                   target, False, track.index, speed)  # fmt: skip


def straight_speed(tracks: Sequence[MoveTrack]) -> float:
    """Speed of a new straight air move, m/s: that of the program's last one."""
    straight = [t.move.speed for t in tracks if t.move.kind is not MoveKind.JOINT
                and not t.move.is_fixed]  # fmt: skip
    return straight[-1] if straight else _SPEED


def _follows_seam(tracks: tuple[MoveTrack, ...], track: MoveTrack) -> bool:
    straight = track.move.kind is not MoveKind.JOINT
    return track.index > 0 and straight and tracks[track.index - 1].move.at_work


def _leads_to_seam(tracks: tuple[MoveTrack, ...], track: MoveTrack) -> bool:
    straight = track.move.kind is not MoveKind.JOINT and not track.move.arc_on
    return straight and track.index + 1 < len(tracks) and tracks[track.index + 1].move.at_work
