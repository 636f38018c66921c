"""Where an arm leaves its way to round a taught point: the corner's zone on both moves."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.each_once import each_once
from pathsim.model import Cell
from pathsim.motion.trajectory import MoveTrack
from pathsim.transforms import Array


@dataclass(frozen=True, eq=False)
class Corner:
    """A rounded corner: zone of the move before, of the move behind, and their knots.

    ``following`` is the index of the move behind. ``start``, ``time`` and ``end`` s;
    ``before (n, axes)`` from the zone's start to the corner, ``behind (m, axes)`` from the
    corner to the zone's end.
    """

    point: str
    following: int
    start: float
    time: float
    end: float
    before: Array
    behind: Array


def corner_of(cell: Cell, tracks: Sequence[MoveTrack], index: int) -> Corner | None:
    """Return the corner at the end of the move at ``index``; None when the arm stops there.

    Moves of no length behind it are looked through: the arm does not notice them.
    """
    track = tracks[index]
    distance = track.move.rounding
    if distance <= 0 or track.fault is not None or len(track.t) < 2:
        return None
    following = next((t for t in tracks[index + 1 :] if len(t.t) > 1 or t.fault is not None), None)
    if following is None or not following.continuous or len(following.t) < 2:
        return None
    if following.move.arc_on:
        return None
    first = _knots_within(cell, track.q[::-1], distance)
    second = _knots_within(cell, following.q, distance)
    return Corner(
        track.move.target,
        following.index,
        float(track.t[-first]),
        float(track.t[-1]),
        float(following.t[second - 1]),
        track.q[-first:],
        following.q[:second],
    )


def _knots_within(cell: Cell, q: Array, distance: float) -> int:
    """How many knots from the corner on are within ``distance``, and the next one.

    Nobody knows how an arm counts it: along the way or straight, in the shop or on a part that
    turns. A knot that is within it by any of these belongs to the zone.
    """
    last = 0
    for tips in (cell.tips_seen_from(frame, q) for frame in cell.frames):
        way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(tips, axis=0), axis=1))])
        straight = np.linalg.norm(tips - tips[0], axis=1)
        last = max(last, int(np.flatnonzero((way <= distance) | (straight <= distance))[-1]))
    return min(last + 2, len(q))


#: Part of the family: corners ``(k, axes)`` of a convex hull in the space of the axes, and how far
#: off it knots lie, as way of the piece, m.
Hull = tuple[Array, float]


def laid_out(solids: list[Hull]) -> tuple[Array, Array, Array]:
    """Centres ``(n, axes)``, from there to the corners ``(n, k, axes)``, and slacks ``(n,)``."""
    most = max(len(solid) for solid, _ in solids)
    corners = np.stack([np.concatenate([solid, np.repeat(solid[-1:], most - len(solid), axis=0)])
                        for solid, _ in solids])  # fmt: skip
    centres = corners.mean(axis=1)
    return centres, corners - centres[:, None], np.array([slack for _, slack in solids])


def hulls_of(corner: Corner, parts: int, levers: Array) -> list[Hull]:
    """Return hulls that hold the family, each zone cut into ``parts`` at most.

    Axes that do not move the piece are left where they are in the sharp corner. What one axis
    alone moves goes from its least to its greatest value, and what two axes move is in a
    plane, where the four faces of a tetrahedron hold all of it.
    """
    counts, at = levers > 0, corner.before[-1]
    if counts.sum() <= 1:
        both = np.concatenate([corner.before, corner.behind])
        ends = np.stack([both.min(axis=0), both.max(axis=0)])
        return [(_distinct(np.where(counts, ends, at)), 0.0)]
    zones = [_chords(knots, parts, levers) for knots in (corner.before, corner.behind)]
    solids = []
    for (a, b, slack_in), (c, d, slack_out) in itertools.product(*zones):
        ends = _distinct(np.where(counts, np.array([a, b, c, d]), at))
        is_flat = counts.sum() == 2 and len(ends) == 4
        faces = itertools.combinations(ends, 3) if is_flat else [ends]
        solids += [(np.array(face), max(slack_in, slack_out)) for face in faces]
    return solids


def _distinct(rows: Array) -> Array:
    """Rows without those that are there already; the library's way takes longer than a look."""
    return np.array(list({row.tobytes(): row for row in rows}.values()))


def _chords(q: Array, parts: int, levers: Array) -> list[tuple[Array, Array, float]]:
    """Return ends and slack of the chords that stand for knots ``q``, at most ``parts``."""
    edges = each_once(np.linspace(0, len(q) - 1, parts + 1).round().astype(int))
    return [
        (q[a], q[b], _off_line(q[a : b + 1], q[a], q[b], levers))
        for a, b in itertools.pairwise(edges)
    ]


def _off_line(q: Array, start: Array, end: Array, levers: Array) -> float:
    """Farthest that knots ``q`` are from the line between two of them, in way of the piece, m."""
    way = (end - start) * levers
    size = float(way @ way)
    share = np.zeros(len(q)) if size == 0 else np.clip((q - start) * levers @ way / size, 0, 1)
    return float((np.abs(q - start - share[:, None] * (end - start)) @ levers).max())


def halved(solid: Array, levers: Array) -> tuple[Array, Array]:
    """Cut a hull ``(k, axes)`` of k corners through the middle of its longest edge."""
    one, other = np.triu_indices(len(solid), 1)
    longest = int(np.argmax(np.abs(solid[one] - solid[other]) @ levers))
    i, j = int(one[longest]), int(other[longest])
    first, second = solid.copy(), solid.copy()
    first[j] = second[i] = (solid[i] + solid[j]) / 2
    return first, second
