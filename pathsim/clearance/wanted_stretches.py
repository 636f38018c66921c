"""How a move is divided for a pair that a search or a station wants to meet.

Where the two may touch, what is measured is what of the piece must not: of the wire what is above
its end, of anything else nothing. Elsewhere in the zone all of the piece must not touch, but comes
near by its nature. Outside the zone the pair is one like any other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from pathsim.clearance.contact_rules import Stretch, are_wanted, are_wire_and_part
from pathsim.clearance.engine import Pair
from pathsim.clearance.obstacle import Obstacle
from pathsim.clearance.stretches import leaves_and_arrives, search_before, wire_asked
from pathsim.model import Cell, Piece
from pathsim.model.wanted_contact import Wanted
from pathsim.motion import MoveTrack, Trajectory
from pathsim.transforms import Array


def wanted_on(cell: Cell, trajectory: Trajectory, track: MoveTrack) -> Wanted | None:
    """Return which contact is wanted on a move: its own, or that of the search right before it."""
    own = cell.wanted(track.move)
    return search_before(cell, trajectory, track) if own is None else own


def wanted_stretches(
    cell: Cell, trajectory: Trajectory, track: MoveTrack, of_pair: Sequence[Stretch]
) -> tuple[Stretch, ...]:
    """Divide a move for the pair that is wanted on it; ``of_pair``: as it is for such a pair.

    On a search the two may touch all along: where they do is what it looks for. Behind one they may
    while the tip is within ``reach`` of the point taught, at a station while it is within that of
    the point inside.
    """
    until, since = _may_touch(cell, trajectory, track)
    parts = []
    for part in of_pair:
        wants = part.wants
        if wants is None:
            parts.append(part)
            continue
        cuts = ((part.start, until, wants.end), (until, since, 0.0), (since, part.end, wants.end))
        for first, last, length in cuts:
            start, end = max(first, part.start), min(last, part.end)
            if start < end or part.start == part.end:
                parts.append(replace(part, start=start, end=end, touching_end=length))
            if part.start == part.end:
                break
    return tuple(parts)


def _may_touch(cell: Cell, trajectory: Trajectory, track: MoveTrack) -> tuple[float, float]:
    """Return until when from its start, and from when to its end, contact is wanted on a move."""
    start, end = float(track.t[0]), float(track.t[-1])
    wants = cell.wanted(track.move)
    if wants is not None and wants.is_search:
        return end, end
    if wants is None:
        searched = search_before(cell, trajectory, track)
        if searched is None:
            return start, end
        return leaves_and_arrives(cell, track, searched.reach, None)[0], end
    comes_out, goes_in = inside_at(cell, trajectory, track)
    until, since = leaves_and_arrives(
        cell, track, wants.reach if comes_out else None, wants.reach if goes_in else None
    )
    return until, max(until, since)


def inside_at(cell: Cell, trajectory: Trajectory, track: MoveTrack) -> tuple[bool, bool]:
    """Tell whether a move begins inside its station, and whether it ends there.

    Of moves of a station right behind each other the first ends inside. Any other ends there where
    the next one goes on from near a place inside, or where it comes back to one.
    """
    wants = cell.wanted(track.move)
    assert wants is not None  # noqa: S101 - it names its station
    visit = _visit(trajectory, track)
    inside, within = [visit[0].q[-1]], [False, True]
    for one in visit[1:]:
        is_near = any(_apart(cell, one.q[-1], place) <= wants.reach for place in inside)
        within.append(is_near and not (one is visit[-1] and within[-1]))
        if within[-1]:
            inside.append(one.q[-1])
    at = track.index - visit[0].index
    return within[at], within[at + 1]


def _visit(trajectory: Trajectory, track: MoveTrack) -> list[MoveTrack]:
    """Return all moves of a station that lie right behind each other with one, it among them."""
    tracks, station = trajectory.tracks, track.move.station
    first = last = track.index
    while first > 0 and tracks[first].continuous and tracks[first - 1].move.station == station:
        first -= 1
    while last + 1 < len(tracks) and (behind := tracks[last + 1]).continuous:
        if behind.move.station != station:
            break
        last += 1
    return list(tracks[first : last + 1])


def _apart(cell: Cell, one: Array, other: Array) -> float:
    """How far the tip is from where it is elsewhere, m, as seen from wherever that is farthest."""
    q = np.stack([one, other])
    tips = [cell.tips_seen_from(frame, q) for frame in cell.frames]
    return float(max(np.linalg.norm(there[1] - there[0]) for there in tips))


def piece_asked(cell: Cell, piece: Piece, part: Stretch) -> Piece | None:
    """Return what of a wanted piece must not touch there; None where all of it may."""
    if not part.touching_end:
        return piece
    return None if math.isinf(part.touching_end) else cell.wires_above[part.touching_end]


class Meeting(NamedTuple):
    """A pair that is wanted to meet on a move, and what is asked of it on which stretch."""

    pair: Pair
    asked: tuple[tuple[Stretch, Piece | None], ...]

    def is_about_wire_and(self, standing: Obstacle) -> bool:
        """Tell whether the wire and this part are the pair."""
        return self.pair[0].is_wire and self.pair[1] is standing


def meetings_on(
    cell: Cell,
    trajectory: Trajectory,
    track: MoveTrack,
    pairs: Sequence[Pair],
    of_move: Sequence[Stretch],
    of_wire: Sequence[Stretch],
) -> tuple[Meeting, ...]:
    """Return what is wanted to meet on a move: nothing on nearly all, of a station each body."""
    wants = wanted_on(cell, trajectory, track)
    if wants is None:
        return ()
    wanted = [one for one in pairs if are_wanted(*one, wants)]
    return tuple(_meeting(cell, trajectory, track, one, of_move, of_wire) for one in wanted)


def _meeting(
    cell: Cell,
    trajectory: Trajectory,
    track: MoveTrack,
    pair: Pair,
    of_move: Sequence[Stretch],
    of_wire: Sequence[Stretch],
) -> Meeting:
    by_wire = are_wire_and_part(*pair)
    parts = wanted_stretches(cell, trajectory, track, of_wire if by_wire else of_move)

    def asked(part: Stretch) -> Piece | None:
        if part.wants is not None:
            return piece_asked(cell, pair[0], part)
        return wire_asked(cell, part) if by_wire else pair[0]

    return Meeting(pair, tuple((part, asked(part)) for part in parts))
