"""Room between the walls: how far the nozzle could go to each side along a woven seam.

Looked at, not proved: at some places of the seam the torch is set aside step by step until
it comes nearer than the margin. Whether the weave itself keeps its margin is proved elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from pathsim.clearance.contact_rules import (
    Stretch,
    cable_margin,
    comes_near,
    pair_margin,
    stand_by,
    unknown_place,
)
from pathsim.clearance.obstacle import Obstacle, obstacles
from pathsim.clearance.reference.engine import ReferenceEngine
from pathsim.clearance.stretches import (
    bead_stretches,
    beads_lain_on,
    stretches,
    wire_asked,
    wire_stretches,
)
from pathsim.findings.amplitude import fitting_amplitude
from pathsim.findings.centre_line import on_seam
from pathsim.findings.finding import Evidence, Finding, Level, move_name
from pathsim.findings.kept_rooms import Room
from pathsim.findings.kinds import FindingKind
from pathsim.findings.uncertain_places import off_by_name
from pathsim.model import Cell, Piece
from pathsim.model.turning_table import StandsOn
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Array, BoolArray, apply, inverse
from pathsim.units import millimetres

_PLACES = 15
#: To the left, and to the right.
_SIDES = (1.0, -1.0)
_HALVINGS = 7
#: What is nearer than this touches, m.
_TOUCHES = 1e-9
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
            f"{move_name(track)} before it comes nearer than {_nearest(evidence.cell)}, or the "
            f"wire above its end meets a part (left "
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
    if any(off > 0 for off in off_by_name(cell).values()):
        seam += ", wider where places are not exactly known,"
    return " or ".join([seam, *(f"its cable than {margin}" for margin in dict.fromkeys(own))])


def _room(evidence: Evidence, track: MoveTrack) -> Room:
    """Measure the room, or take what was measured for the same seam before."""
    if evidence.rooms is None:
        return narrowest_room(evidence, track)
    (part,) = stretches(evidence.cell, evidence.trajectory, track)
    beads = tuple(
        b.body.mesh.digest for b in evidence.cell.beads if b.body and stand_by(track, b.body)
    )
    ends = tuple(evidence.cell.wires_above)
    what = (part.zone, part.touching_end, part.corner, beads, evidence.cell.bead_top, ends)
    return evidence.rooms.room(evidence.cell, track, what, lambda: narrowest_room(evidence, track))


def narrowest_room(evidence: Evidence, track: MoveTrack) -> Room:
    """Least room to the left and to the right on a seam, m, and when the lesser comes, s.

    Measured from the seam's centre along the weave's own plane, at most twice the amplitude.
    """
    weave = track.move.weave
    widest = _WIDEST * (weave.amplitude if weave else 0.0)
    places = _places(evidence.cell, track, weave.tilt if weave else 0.0)
    rooms = [(widest, side, float(track.t[0])) for side in _SIDES]
    if places:
        meeting = _Meeting(evidence, track, places, widest)
        found = zip(meeting.rooms().tolist(), meeting.sides, strict=True)
        rooms += [(room, side, places[k // 2].time) for k, (room, side) in enumerate(found)]
    least = [min(room for room in rooms if room[1] == side) for side in _SIDES]
    return least[0][0], least[1][0], min(least)[2]


class _Place(NamedTuple):
    """A place of a seam: where the links are, and what bodies stand on.

    ``left (3,)`` is in the world; ``time`` in s.
    """

    links: Array
    frames: dict[StandsOn, Array]
    left: Array
    time: float


def _places(cell: Cell, track: MoveTrack, tilt: float) -> list[_Place]:
    """Return places evenly along a seam's centre."""
    places = []
    for share in np.linspace(0, 1, _PLACES):
        place = on_seam(cell, track, float(share))
        if place is None:
            continue
        frames = {frame: cell.frame_motion(frame, place.q[None])[0] for frame in cell.frames}
        travel = frames[cell.frames[-1]][:3, :3] @ place.travel
        left = np.cross(-place.T_world_tcp[:3, 2], travel)
        size = float(np.linalg.norm(left))
        if size < 1e-9:
            continue
        left /= size
        left = np.cos(tilt) * left + np.sin(tilt) * np.cross(travel, left)
        time = track.travel_start + float(share) * track.travel_seconds
        places.append(_Place(cell.link_poses(place.q[None])[0], frames, left, time))
    return places


def wires_by_parts(
    cell: Cell, trajectory: Trajectory, track: MoveTrack
) -> Callable[[Obstacle], Piece | None]:
    """Return what of the wire must not meet a part on a seam, by the part; None: all of it may.

    Of beads that the seam lies in more of its end may touch than of other parts.
    """
    of_move = stretches(cell, trajectory, track)
    lain_on = beads_lain_on(cell, trajectory, track)
    (by_part,) = wire_stretches(cell, trajectory, track, of_move)
    (by_bead,) = bead_stretches(cell, trajectory, track, of_move) if lain_on else (by_part,)

    def above(thing: Obstacle) -> Piece | None:
        return wire_asked(cell, by_bead if thing.name in lain_on else by_part)

    return above


class _Pair(NamedTuple):
    """A piece of the torch and a thing that it must keep ``margin`` m from.

    ``away (ways,)``: how far they are apart on the centre, m; inf where that is beyond all ways.
    """

    piece: Piece
    thing: Obstacle
    margin: float
    away: Array


class _Meeting:
    """The torch's pieces against everything that they must not come near on a seam.

    Each place has two ways, to the left and to the right; all are measured at once. ``sides``:
    1 to the left, -1 to the right.
    """

    def __init__(
        self, evidence: Evidence, track: MoveTrack, places: Sequence[_Place], widest: float
    ) -> None:
        cell = evidence.cell
        self._engine = ReferenceEngine(cell) if evidence.engine is None else evidence.engine
        self._widest = widest
        self.sides = list(_SIDES) * len(places)
        lefts = np.repeat([place.left for place in places], 2, axis=0)
        self._directions = lefts * np.array(self.sides)[:, None]
        self._links = np.array([place.links for place in places])
        self._to_frame = {
            frame: inverse(np.array([place.frames[frame] for place in places]))
            for frame in cell.frames[1:]
        }
        (part,) = stretches(cell, evidence.trajectory, track)
        self._wires = wires_by_parts(cell, evidence.trajectory, track)
        self._near = self._near_pairs(cell, track, part)

    def _near_pairs(self, cell: Cell, track: MoveTrack, part: Stretch) -> list[_Pair]:
        """Return the pairs that come within their margins on the longest way from any place.

        Boxes first, all at once: most of a cell is too far away to need more. Of the wire what is
        above its end, which alone may meet parts.
        """
        things = tuple(thing for thing in obstacles(cell) if stand_by(track, thing))
        pieces = [piece for piece in cell.arm_pieces if piece.is_torch]
        if not things or not pieces:
            return []
        # The torch is asked for the same of everything that stands.
        margins = [pair_margin(cell, track, piece, things[0], part) for piece in pieces]
        corners = np.array([thing.source.corners for thing in things])
        T = np.array([thing.T_ref_mesh for thing in things])
        standing = corners @ np.swapaxes(T[:, :3, :3], 1, 2) + T[:, None, :3, 3]
        pairs = []
        for piece, margin in zip(pieces, margins, strict=True):
            reach = margin + self._widest + max(unknown_place(piece, one) for one in things)
            gaps = np.empty((len(self._links), len(things)))
            for frame in cell.frames:
                some = [k for k, thing in enumerate(things) if thing.stands_on is frame]
                moving = apply(self._poses(piece, frame), piece.mesh.corners)
                gaps[:, some] = _boxes_apart(moving, standing[some])
            for k in np.flatnonzero((gaps < reach).any(axis=0)).tolist():
                asked, least = piece, margin
                if comes_near(piece, things[k], part):
                    above = self._wires(things[k])
                    if above is None:
                        continue
                    asked, least = above, _TOUCHES
                away = np.full(len(self._links), np.inf)
                met = np.flatnonzero(gaps[:, k] < reach)
                poses = self._poses(asked, things[k].stands_on)[met]
                away[met] = self._engine.distances(asked, things[k], poses, reach)
                away[away >= reach] = np.inf
                least += unknown_place(asked, things[k])
                if np.isfinite(away).any():
                    pairs.append(_Pair(asked, things[k], least, np.repeat(away, 2)))
        return pairs

    def _poses(self, piece: Piece, frame: StandsOn) -> Array:
        """Where the link of a piece is at each place, seen from what bodies stand on."""
        poses = self._links[:, piece.link]
        return np.asarray(self._to_frame[frame] @ poses if frame.is_carried else poses)

    def rooms(self) -> Array:
        """How far along each way the torch keeps the margin, ``(ways,)`` m."""
        low, high = np.zeros(len(self.sides)), np.full(len(self.sides), self._widest)
        starts = self._keeps(low, np.ones(len(low), dtype=bool))
        is_open = starts & ~self._keeps(high, starts)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            keeps = self._keeps(middle, is_open)
            low, high = (np.where(keeps, middle, low), np.where(keeps, high, middle))
        return np.where(is_open, low, np.where(starts, self._widest, 0.0))

    def _keeps(self, way: Array, asked: BoolArray) -> BoolArray:
        """Tell which of the ``asked`` ways ``(ways,)`` keep the margin after ``way`` m of each."""
        keeps = asked.copy()
        for piece, thing, margin, away in self._near:
            # No distance changes by more than the way that was gone.
            which = np.flatnonzero(keeps & (away - way < margin))
            if not len(which):
                continue
            shifted = self._links[which // 2, piece.link]
            shifted[:, :3, 3] += way[which, None] * self._directions[which]
            if thing.stands_on.is_carried:
                shifted = self._to_frame[thing.stands_on][which // 2] @ shifted
            found = self._engine.distances(piece, thing, shifted, margin, margin)
            keeps[which] = found >= margin
        return keeps


def _boxes_apart(moving: Array, standing: Array) -> Array:
    """Gaps ``(n, m)`` of the boxes round corners ``(n, 8, 3)`` and ``(m, 8, 3)``, m."""
    low, high = moving.min(axis=1)[:, None], moving.max(axis=1)[:, None]
    gaps = np.maximum(low - standing.max(axis=1), standing.min(axis=1) - high)
    return np.asarray(np.linalg.norm(np.maximum(gaps, 0.0), axis=-1))
