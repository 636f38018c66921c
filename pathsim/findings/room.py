"""Room between the walls: how far the nozzle could go to each side along a woven seam.

Looked at, not proved: at some places of the seam the torch is set aside step by step until
it comes nearer than the margin. Whether the weave itself keeps its margin is proved elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.clearance.rules import may_touch, standing_things, stretches
from pathsim.clearance.shapes import Shape
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.model import Cell
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, translation
from pathsim.units import millimetres

_PLACES = 15
_HALVINGS = 7
#: Room beyond so many amplitudes is not asked for.
_WIDEST = 2.0


def room_for_weaves(evidence: Evidence) -> Iterator[Finding]:
    """One watch for each woven seam whose amplitude is more than the room to a side."""
    for track in evidence.trajectory.tracks:
        weave = track.move.weave
        if weave is None or track.fault is not None or len(track.t) < 3:
            continue
        left, right, at = narrowest_room(evidence, track)
        room = min(left, right)
        if room >= weave.amplitude:
            continue
        side = "left" if left < right else "right"
        share = round(track.share(at) * 100)
        text = (
            f"Weave '{weave.name}' goes {millimetres(weave.amplitude)} to each side, but the torch "
            f"has only {millimetres(room)} of room to the {side} at {share} % of "
            f"{move_name(track)} before it comes nearer than "
            f"{millimetres(evidence.cell.margins.seam)} (left {millimetres(left)}, right "
            f"{millimetres(right)}): an amplitude of "
            f"{millimetres(max(room, 0.0))} would fit."
        )
        numbers = {"left": left, "right": right}
        yield Finding(Level.WATCH, "weave room", text, track.number, at, numbers=numbers)


def narrowest_room(evidence: Evidence, track: MoveTrack) -> tuple[float, float, float]:
    """Least room to the left and to the right on a seam, m, and when the lesser comes, s.

    Measured from the seam's centre, at most twice the amplitude.
    """
    cell = evidence.cell
    weave = track.move.weave
    times = np.linspace(track.t[0], track.t[-1] - track.move.wait - track.move.crater, _PLACES)
    q = track.q_at(times)
    ends = cell.tips_on_part(track.q_at(np.array([times[0], times[-1]])))
    straight = track.move.via is None and bool(np.linalg.norm(ends[1] - ends[0]) > 1e-6)
    widest = _WIDEST * (weave.amplitude if weave else 0.0)
    meet = _Meeting(evidence, track)
    rooms = []
    for k, time in enumerate(times):
        T = cell.link_poses(q[k : k + 1])[0]
        tool = cell.tool_poses(q[k : k + 1])[0]
        table = cell.table_motion(q[k : k + 1])[0]
        if straight:
            travel = table[:3, :3] @ (ends[1] - ends[0])
        else:
            travel = _travel(cell, track, float(time), weave.period if weave else 0.1, table)
        left = np.cross(-tool[:3, 2], travel)
        size = float(np.linalg.norm(left))
        if size < 1e-9:
            continue
        left /= size
        # from the seam's centre, not from where the weave is at this moment
        aside = _aside(cell, q[k], left, ends) if straight else 0.0
        for side in (1.0, -1.0):
            room = meet.room(T, table, side * left, -side * aside, widest)
            rooms.append((room, side, float(time)))
    least = {side: min((r for r in rooms if r[1] == side), default=(widest, side, times[0]))
             for side in (1.0, -1.0)}  # fmt: skip
    worst = min(least.values())
    return least[1.0][0], least[-1.0][0], worst[2]


def _travel(cell: Cell, track: MoveTrack, time: float, cycle: float, table: Array) -> Array:
    """Direction of travel in the world, over a whole cycle of the weave."""
    near = np.clip([time - cycle / 2, time + cycle / 2], track.t[0], track.t[-1])
    tips = cell.tips_on_part(track.q_at(near))
    return np.asarray(table[:3, :3] @ (tips[1] - tips[0]))


def _aside(cell: Cell, q: Array, left: Array, ends: Array) -> float:
    """How far the tip is to the left of a straight seam's centre at ``q``, m."""
    tip = cell.tips_on_part(q[None])[0]
    table = cell.table_motion(q[None])[0][:3, :3]
    return float((table @ (tip - ends[0])) @ left)


class _Meeting:
    """The torch's pieces against everything that they must not come near on a seam."""

    def __init__(self, evidence: Evidence, track: MoveTrack) -> None:
        cell = evidence.cell
        (part,) = stretches(cell, evidence.trajectory, track)
        self._margin = part.margin(cell.margins)
        self._pairs = [
            (Shape(piece.mesh), piece.link, Shape(thing.mesh), thing.on_table)
            for piece in cell.arm_pieces
            for thing in standing_things(cell)
            if piece.is_torch and not may_touch(piece, thing, part)
        ]

    def room(self, T: Array, table: Array, direction: Array, start: float, widest: float) -> float:
        """How far from ``start`` along ``direction`` the torch keeps the margin, m."""
        for _, _, still, on_table in self._pairs:
            still.place(table if on_table else np.eye(4))
        # a pair that is farther than the whole way cannot be met on it
        reach = self._margin + widest + abs(start)
        near = [pair for pair in self._pairs if self._distance(pair, T, np.zeros(3)) < reach]

        def keeps(way: float) -> bool:
            shift = direction * (start + way)
            return all(self._distance(pair, T, shift) >= self._margin for pair in near)

        if not keeps(0.0):
            return 0.0
        if keeps(widest):
            return widest
        low, high = 0.0, widest
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if keeps(middle) else (low, middle)
        return low

    def _distance(self, pair: tuple[Shape, int, Shape, bool], T: Array, shift: Array) -> float:
        moving, link, still, _ = pair
        moving.place(translation(shift) @ T[link])
        return moving.distance(still)[0]
