"""How a move is divided for the one pair that a search or a station wants to meet.

Where the two may touch, what is measured is what of the piece must not: of the wire what is above
its end, of anything else nothing. Elsewhere in the zone all of the piece must not touch, but comes
near by its nature. Outside the zone the pair is one like any other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from pathsim.clearance.contact_rules import Obstacle, Stretch, are_wanted, are_wire_and_part
from pathsim.clearance.engine import Pair
from pathsim.clearance.stretches import leaves_and_arrives, search_before, wire_asked
from pathsim.model import Cell, Piece
from pathsim.model.wanted_contact import Wanted
from pathsim.motion import MoveTrack, Trajectory


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
    comes_out, goes_in = inside_at(trajectory, track)
    until, since = leaves_and_arrives(
        cell, track, wants.reach if comes_out else None, wants.reach if goes_in else None
    )
    return until, max(until, since)


def inside_at(trajectory: Trajectory, track: MoveTrack) -> tuple[bool, bool]:
    """Tell whether a move begins inside its station, and whether it ends there.

    It begins there where the move before went in, and ends there unless the station is left by it.
    """
    tracks, station = trajectory.tracks, track.move.station
    before = tracks[track.index - 1] if track.index > 0 and track.continuous else None
    behind = tracks[track.index + 1] if track.index + 1 < len(tracks) else None
    comes_out = before is not None and before.move.station == station
    stays = behind is not None and behind.continuous and behind.move.station == station
    return comes_out, stays or not comes_out


def piece_asked(cell: Cell, piece: Piece, part: Stretch) -> Piece | None:
    """Return what of a wanted piece must not touch there; None where all of it may."""
    if not part.touching_end:
        return piece
    return None if math.isinf(part.touching_end) else cell.wires_above[part.touching_end]


class Meeting(NamedTuple):
    """The pair that is wanted to meet on a move, and what is asked of it on which stretch."""

    pair: Pair | None = None
    asked: tuple[tuple[Stretch, Piece | None], ...] = ()

    def is_about_wire_and(self, standing: Obstacle) -> bool:
        """Tell whether the wire and this part are the pair."""
        return self.pair is not None and self.pair[0].is_wire and self.pair[1] is standing


def meeting_on(
    cell: Cell,
    trajectory: Trajectory,
    track: MoveTrack,
    pairs: Sequence[Pair],
    of_move: Sequence[Stretch],
    of_wire: Sequence[Stretch],
) -> Meeting:
    """Return what is wanted to meet on a move; nothing on nearly all."""
    wants = wanted_on(cell, trajectory, track)
    pair = next((one for one in pairs if are_wanted(*one, wants)), None) if wants else None
    if pair is None:
        return Meeting()
    by_wire = are_wire_and_part(*pair)
    parts = wanted_stretches(cell, trajectory, track, of_wire if by_wire else of_move)

    def asked(part: Stretch) -> Piece | None:
        if part.wants is not None:
            return piece_asked(cell, pair[0], part)
        return wire_asked(cell, part) if by_wire else pair[0]

    return Meeting(pair, tuple((part, asked(part)) for part in parts))
