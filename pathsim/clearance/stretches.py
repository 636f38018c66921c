"""How a move is divided: where the margin changes, and where the wire's end may touch parts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from pathsim.clearance.contact_rules import Stretch, Zone, stand_by
from pathsim.geometry.containment_kernel import fast_solid_of
from pathsim.kernels.arrays import as_asked
from pathsim.kernels.plain import as_it_runs
from pathsim.model import Cell, Move, MoveKind, Piece
from pathsim.model.wanted_contact import Wanted
from pathsim.motion import MoveTrack, Trajectory
from pathsim.motion.track_kernel import first_far

#: Steps of time in which it is looked when the tip leaves the neighbourhood of a seam's end.
_STEPS = 800
#: A tip that is gone before so many steps is looked at in so many parts of the last one.
_FEW, _CLOSER = 8, 64

#: So many places of a seam are looked at for the beads that it lies on.
_PLACES = 129

#: What leaves a contact by so many margins is out of the margin, if it leaves at all squarely.
_OUT_OF_MARGIN = 1.5


def stretches(cell: Cell, trajectory: Trajectory, track: MoveTrack) -> tuple[Stretch, ...]:
    """Divide a move where the margin changes.

    A seam is one stretch, and so is a search or a move that uses a station. Any other move that
    leaves a seam's or a search's end, or comes to a seam, has a stretch there while the tip is
    within the wire's own length of it, behind a search at least so far that what touched is out of
    the margin; beyond it straight moves beside seams count as approach and others as air.
    """
    start, end = float(track.t[0]), float(track.t[-1])
    if track.move.at_weld:
        return (Stretch(start, end, Zone.SEAM, touching_end=track.move.touching_end),)
    wants = cell.wanted(track.move)
    if wants is not None:
        return (Stretch(start, end, _zone_of(wants), wants=wants),)
    before, behind = _seams_beside(trajectory, track)
    searched = search_before(cell, trajectory, track)
    if start == end and searched is not None:
        return (Stretch(start, end, Zone.SEARCH, wants=searched),)
    if (before is None and behind is None and searched is None) or start == end:
        return (Stretch(start, end, Zone.AIR),)
    length = cell.torch.wire_length
    radius = length if searched is None else max(length, _OUT_OF_MARGIN * cell.margins.air)
    leave, arrive = leaves_and_arrives(
        cell, track, radius if before or searched else None, None if behind is None else length
    )
    straight = track.move.kind is not MoveKind.JOINT
    if leave >= arrive and searched is None:
        return (Stretch(start, end, Zone.SEAM),)
    leave = min(leave, arrive)  # what comes to a weld behind a search is by the weld
    parts = []
    if leave > start:
        zone = Zone.SEAM if searched is None else Zone.SEARCH
        parts.append(Stretch(start, leave, zone, wants=searched))
    if leave < arrive:
        beyond = Zone.APPROACH if straight and (before or behind) else Zone.AIR
        parts.append(Stretch(leave, arrive, beyond))
    if arrive < end:
        parts.append(Stretch(arrive, end, Zone.SEAM))
    return tuple(parts)


def _zone_of(wants: Wanted) -> Zone:
    return Zone.SEARCH if wants.is_search else Zone.STATION


def beads_lain_on(cell: Cell, trajectory: Trajectory, track: MoveTrack) -> frozenset[str]:
    """Return the names of the beads in which, as drawn, the wire's end is on a seam.

    On a move beside a seam: where that seam begins or ends. Any other bead is to it as a part is.
    """
    if track.move.at_weld:
        times = np.linspace(track.t[0], track.t[-1], _PLACES)
    else:
        before, behind = _seams_beside(trajectory, track)
        ends = ((before, track.t[0]), (behind, track.t[-1]))
        times = np.array([time for seam, time in ends if seam is not None])
    bodies = [one.body for one in cell.beads if one.body is not None and stand_by(track, one.body)]
    if not len(times) or not bodies:
        return frozenset()
    q = track.q_at(times)
    return frozenset(
        body.name
        for body in bodies
        if fast_solid_of(body.mesh).holds(cell.tips_seen_from(body.stands_on, q))
    )


def bead_stretches(
    cell: Cell, trajectory: Trajectory, track: MoveTrack, of_move: Sequence[Stretch]
) -> tuple[Stretch, ...]:
    """Divide a move for the wire against beads that a seam lies on, as ``wire_stretches`` does.

    The wire's end is where a bead has its root, the bead as drawn stands round it: so much longer
    is the end that may touch, and so much farther from a seam's ends.
    """
    return wire_stretches(cell, trajectory, track, of_move, cell.bead_top)


def wire_stretches(
    cell: Cell,
    trajectory: Trajectory,
    track: MoveTrack,
    of_move: Sequence[Stretch],
    more: float = 0.0,
) -> tuple[Stretch, ...]:
    """Divide a move for the wire against parts: where its end may touch them, and where not.

    ``of_move``: its ``stretches``. The end may touch on a seam, and while the tip is within the
    seam's ``wire_end`` of where the seam ends or begins. Else the whole wire counts. In all of the
    seam's zone it must not touch, but comes near by its nature: there is no margin to keep.
    ``more`` m: so much longer is the end.
    """
    if track.move.at_weld:
        return tuple(replace(one, touching_end=one.touching_end + more) for one in of_move)
    if all(part.zone is not Zone.SEAM for part in of_move):
        return tuple(of_move)
    before, behind = _seams_beside(trajectory, track)
    leave, arrive = leaves_and_arrives(
        cell,
        track,
        None if before is None else min(before.wire_end + more, cell.torch.wire_length),
        None if behind is None else min(behind.wire_end + more, cell.torch.wire_length),
    )
    ends = [0.0 if seam is None else seam.touching_end + more for seam in (before, behind)]
    if leave >= arrive:
        return (Stretch(of_move[0].start, of_move[-1].end, Zone.SEAM, touching_end=max(ends)),)
    parts = []
    for part in of_move:
        if part.zone is not Zone.SEAM:
            parts.append(part)
            continue
        cuts = ((part.start, leave, ends[0]), (leave, arrive, 0.0), (arrive, part.end, ends[1]))
        for first, last, length in cuts:
            start, end = max(first, part.start), min(last, part.end)
            if start < end:
                parts.append(Stretch(start, end, Zone.SEAM, touching_end=length))
    return tuple(parts)


def wire_asked(cell: Cell, stretch: Stretch) -> Piece | None:
    """Return what of the wire must not touch a part there; None where all of it is its end.

    Of a seam that is only tried with another weave than the cell's program has: the nearest of the
    program's, a shorter end before a longer one.
    """
    end, known = stretch.touching_end, cell.wires_above
    if not end or not known:
        return cell.wire
    if end not in known:
        shorter = [length for length in known if length < end]
        end = max(shorter) if shorter else min(known)
    return known[end]


def wire_margin(cell: Cell, stretch: Stretch) -> float:
    """Clearance asked of the wire to parts, m: none by the weld, where it must only not touch."""
    return 0.0 if stretch.zone is Zone.SEAM else stretch.margin(cell.margins)


def search_before(cell: Cell, trajectory: Trajectory, track: MoveTrack) -> Wanted | None:
    """Return what the search right before a move wants; None where there is none."""
    if track.index == 0 or not track.continuous:
        return None
    before = trajectory.tracks[track.index - 1].move
    return None if before.search is None else cell.wanted(before)


def _seams_beside(trajectory: Trajectory, track: MoveTrack) -> tuple[Move | None, Move | None]:
    """Return the seam that a move leaves, and the one that it comes to."""
    tracks = trajectory.tracks
    before = tracks[track.index - 1].move if track.index > 0 and track.continuous else None
    following = tracks[track.index + 1] if track.index + 1 < len(tracks) else None
    is_met = following is not None and following.continuous and track.fault is None
    behind = following.move if following is not None and is_met else None
    return (
        before if before is not None and before.at_weld else None,
        behind if behind is not None and behind.at_weld else None,
    )


def leaves_and_arrives(
    cell: Cell, track: MoveTrack, before: float | None, behind: float | None
) -> tuple[float, float]:
    """Return until when the tip is within ``before`` m of its first place, from when of its last.

    None: it is near no weld there, from the start or to the end.
    """
    start, end = float(track.t[0]), float(track.t[-1])
    leave, arrive = start, end
    # By the number of a look, and not by seconds: of a tip that never leaves it is the very end.
    if before is not None:
        number = _near_until(cell, track, before, from_end=False)
        leave = end if number == _STEPS else start + (end - start) * (number / _STEPS)
    if behind is not None:
        number = _near_until(cell, track, behind, from_end=True)
        arrive = start if number == _STEPS else end - (end - start) * (number / _STEPS)
    return leave, arrive


def _near_until(cell: Cell, track: MoveTrack, radius: float, *, from_end: bool) -> float:
    """Return until which of a move's looks, from its start or its end on, the tip is near there.

    Kept with the move: where the tip is depends on what is in its key, and on nothing else.
    """

    def look() -> float:
        t, q = as_asked(track.t, float), as_asked(track.q, float)
        origin, span = float(t[-1 if from_end else 0]), float(t[-1] - t[0]) / _STEPS
        if from_end:
            span = -span
        tip, looks = cell.torch.T_flange_tcp[:3, 3], as_it_runs(first_far)
        # A part may stand in the world, tilt or turn with the table: far from any place is far.
        ways = [linkage.for_tip(tip) for linkage in cell.seen_linkages]
        return stays_near(
            lambda start, step, count: min(
                looks(*way, t, q, origin, origin + span * start, span * step, count, radius)
                for way in ways
            )
        )

    return track.kept.once(("near until", from_end, radius), look)


def stays_near(first_far: Callable[[float, float, int], int]) -> float:
    """Return until which look, one after the other, the tip is near its place.

    That is the last look before the first far one: the tip is surely still near there.
    ``first_far`` tells which of some looks is that: from one number on, with a step in between, so
    many of them; their count where none is. A tip that is gone within a few looks is looked at
    closer.
    """
    far = first_far(0.0, 1.0, _STEPS + 1)
    if far > _STEPS:
        return float(_STEPS)
    near = max(far - 1, 0)
    if near >= _FEW:
        return float(near)
    return near + max(first_far(near, 1.0 / _CLOSER, _CLOSER + 1) - 1, 0) / _CLOSER
