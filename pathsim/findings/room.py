"""Room between the walls: how far the nozzle could go to each side along a woven seam.

Looked at, not proved: at some places of the seam the torch is set aside step by step until
it comes nearer than the margin. Whether the weave itself keeps its margin is proved elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from pathsim.clearance.contact_rules import (
    Obstacle,
    cable_margin,
    is_at_weld,
    obstacles,
    pair_margin,
)
from pathsim.clearance.reference.mesh_distance import Shape
from pathsim.clearance.stretches import stretches
from pathsim.findings.amplitude import fitting_amplitude
from pathsim.findings.centre_line import on_seam
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kept_rooms import Room
from pathsim.findings.kinds import FindingKind
from pathsim.model import Cell, Mesh, Piece
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, apply, inverse, translation
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
        left, right, at = _room(evidence, track)
        room = min(left, right)
        if room >= weave.amplitude:
            continue
        side = "left" if left < right else "right"
        share = round(track.share(at) * 100)
        text = (
            f"Weave '{weave.name}' goes {millimetres(weave.amplitude)} to each side, but the torch "
            f"has only {millimetres(room)} of room to the {side} at {share} % of "
            f"{move_name(track)} before it comes nearer than {_nearest(evidence.cell)} (left "
            f"{millimetres(left)}, right {millimetres(right)}). "
        )
        fits = fitting_amplitude(evidence, track, room)
        if fits is not None:
            text += f"Reduce the amplitude to {millimetres(fits)}."
        elif evidence.engine is not None:
            text += "No smaller amplitude was found that fits: change torch angle or fixture."
        numbers = {"left": left, "right": right} | ({} if fits is None else {"fits": fits})
        yield Finding(Level.WATCH, FindingKind.WEAVE_ROOM, text, track.number, at, numbers=numbers)


def _nearest(cell: Cell) -> str:
    """Say how near the torch may come; a cable on it has a margin of its own."""
    seam = millimetres(cell.margins.seam)
    own = [
        millimetres(cable_margin(cell, p.cable)) for p in cell.arm_pieces if p.is_torch and p.cable
    ]
    return " or ".join([seam, *(f"its cable than {margin}" for margin in dict.fromkeys(own))])


def _room(evidence: Evidence, track: MoveTrack) -> Room:
    """Measure the room, or take what was measured for the same seam before."""
    if evidence.rooms is None:
        return narrowest_room(evidence, track)
    (part,) = stretches(evidence.cell, evidence.trajectory, track)
    what = (part.zone, part.touching_end, part.corner)
    return evidence.rooms.room(evidence.cell, track, what, lambda: narrowest_room(evidence, track))


def narrowest_room(evidence: Evidence, track: MoveTrack) -> Room:
    """Least room to the left and to the right on a seam, m, and when the lesser comes, s.

    Measured from the seam's centre along the weave's own plane, at most twice the amplitude.
    """
    cell, weave = evidence.cell, track.move.weave
    widest = _WIDEST * (weave.amplitude if weave else 0.0)
    tilt = weave.tilt if weave else 0.0
    meet = _Meeting(evidence, track)
    seconds = track.travel_seconds
    rooms = [(widest, side, float(track.t[0])) for side in (1.0, -1.0)]
    for share in np.linspace(0, 1, _PLACES):
        place = on_seam(cell, track, float(share))
        if place is None:
            continue
        table = cell.table_motion(place.q[None])[0]
        travel = table[:3, :3] @ place.travel
        left = np.cross(-place.T_world_tcp[:3, 2], travel)
        size = float(np.linalg.norm(left))
        if size < 1e-9:
            continue
        left /= size
        left = np.cos(tilt) * left + np.sin(tilt) * np.cross(travel, left)
        T = cell.link_poses(place.q[None])[0]
        time = float(track.t[0] + share * seconds)
        rooms += [(meet.room(T, table, side * left, widest), side, time) for side in (1.0, -1.0)]
    least = [min(room for room in rooms if room[1] == side) for side in (1.0, -1.0)]
    return least[0][0], least[1][0], min(least)[2]


class _Pair(NamedTuple):
    """A piece of the torch and a thing that it must keep ``margin`` m from."""

    piece: Piece
    thing: Obstacle
    margin: float

    def boxes_apart(self, T: Array) -> float:
        """Gap of the two boxes, m: no more than the distance. ``T``: piece as the thing sees it."""
        corners = apply(T, self.piece.mesh.corners)
        low, high = self.thing.mesh.bounds
        gaps = np.maximum(corners.min(axis=0) - high, low - corners.max(axis=0))
        return float(np.linalg.norm(np.maximum(gaps, 0.0)))


class _Meeting:
    """The torch's pieces against everything that they must not come near on a seam."""

    def __init__(self, evidence: Evidence, track: MoveTrack) -> None:
        cell = evidence.cell
        (part,) = stretches(cell, evidence.trajectory, track)
        self._shapes: dict[Mesh, Shape] = {}
        things = obstacles(cell)
        self._pairs = [
            _Pair(piece, thing, pair_margin(cell, track, piece, part))
            for piece in cell.arm_pieces
            for thing in things
            if piece.is_torch and not is_at_weld(piece, thing, part)
        ]

    def _shape(self, thing: Piece | Obstacle) -> Shape:
        """Return a mesh ready for distances; most of a cell is too far away to need it."""
        if thing.mesh not in self._shapes:
            self._shapes[thing.mesh] = Shape(thing.mesh)
        return self._shapes[thing.mesh]

    def room(self, T: Array, table: Array, direction: Array, widest: float) -> float:
        """How far along ``direction`` the torch keeps the margin, m."""
        near = []
        for pair in self._pairs:
            place = table if pair.thing.on_table else np.eye(4)
            # A pair that is farther than the whole way cannot be met on it.
            reach = pair.margin + widest
            if pair.boxes_apart(inverse(place) @ T[pair.piece.link]) >= reach:
                continue
            self._shape(pair.thing).place(place)
            if self._distance(pair, T, np.zeros(3)) < reach:
                near.append(pair)

        def keeps(way: float) -> bool:
            shift = direction * way
            return all(self._distance(pair, T, shift) >= pair.margin for pair in near)

        if not keeps(0.0):
            return 0.0
        if keeps(widest):
            return widest
        low, high = 0.0, widest
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if keeps(middle) else (low, middle)
        return low

    def _distance(self, pair: _Pair, T: Array, shift: Array) -> float:
        moving = self._shape(pair.piece)
        moving.place(translation(shift) @ T[pair.piece.link])
        return moving.gap(self._shape(pair.thing))
