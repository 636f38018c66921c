"""Where on its way a touch search meets the body that it looks for, as the body is drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.clearance.contact_rules import are_wanted, pairs_to_measure
from pathsim.clearance.contact_time import contact_time
from pathsim.clearance.engine import Engine, Pair, PairQuery, Sampler, Span
from pathsim.clearance.obstacle import obstacles
from pathsim.model import Cell
from pathsim.model.wanted_contact import Wanted
from pathsim.motion import MoveTrack
from pathsim.motion.search_move import search_times
from pathsim.records import FieldsOnly
from pathsim.transforms import Array

#: Looks at the first time of contact, and how often the last step before it is halved.
_LOOKS, _HALVINGS = 33, 16
#: Which way a face looks is told with the two so far apart, m; nearer is no direction.
_BACK, _LEAST = 3e-4, 1e-6


@dataclass(frozen=True, eq=False)
class SearchTouch(FieldsOnly):
    """How a search goes with the body where it is drawn; ways of the tip from its start, m.

    ``taught``: to the point as taught; ``whole``: with its overtravel; ``touch``: until the two
    meet first, None where they never do; ``time`` (s): then, or when they are nearest. ``nearest``
    (m): where they never meet, their guaranteed distance. ``slope`` (rad): between the search and
    the face's normal there, 0 square onto the face; None where it cannot be told.
    """

    taught: float
    whole: float
    touch: float | None
    time: float
    nearest: float
    slope: float | None


def search_touch(engine: Engine, cell: Cell, track: MoveTrack, wants: Wanted) -> SearchTouch | None:
    """Return where a search meets what it wants to; None where the pair is not measured."""
    pair = wanted_pair(cell, track, wants)
    if pair is None:
        return None
    taught, turned = search_times(cell, track)
    window = Span(float(track.t[0]), turned)
    to_point, whole = (_way(cell, track, time) for time in (taught, turned))
    spans = contact_time(engine.on(track), pair, window).spans
    if not spans:
        (found,) = engine.min_distance([PairQuery(track, *pair, window)])
        return SearchTouch(to_point, whole, None, found.time, found.lower, None)
    looks = engine.looks(track, [pair])
    time = _first(looks, spans[0])
    slope = _slope(cell, track, looks, time)
    return SearchTouch(to_point, whole, _way(cell, track, time), time, 0.0, slope)


def wanted_pair(cell: Cell, track: MoveTrack, wants: Wanted) -> Pair | None:
    """Return the first pair that may meet on a move; None where it is not measured at all."""
    return next(iter(wanted_pairs(cell, track, wants)), None)


def wanted_pairs(cell: Cell, track: MoveTrack, wants: Wanted) -> list[Pair]:
    """Return all pairs that may meet on a move: of a station one for each of its bodies."""
    pairs = pairs_to_measure(cell, track, obstacles(cell))
    return [one for one in pairs if are_wanted(*one, wants)]


def meets(engine: Engine, cell: Cell, track: MoveTrack, wants: Wanted) -> tuple[Span, ...]:
    """Return when any two that a move wants to meet are in contact on it, first to last."""
    window, on = Span(float(track.t[0]), float(track.t[-1])), engine.on(track)
    pairs = wanted_pairs(cell, track, wants)
    spans = sorted(
        (span for pair in pairs for span in contact_time(on, pair, window).spans),
        key=lambda span: span.start,
    )
    found: list[Span] = []
    for span in spans:
        if found and span.start <= found[-1].end:
            found[-1] = Span(found[-1].start, max(found[-1].end, span.end))
        else:
            found.append(span)
    return tuple(found)


def _way(cell: Cell, track: MoveTrack, time: float) -> float:
    tips = cell.tips_on_part(track.q_at([float(track.t[0]), time]))
    return float(np.linalg.norm(tips[1] - tips[0]))


def _distances(looks: Sampler, times: Array) -> Array:
    return looks.nearest(times, np.ones((len(times), 1), dtype=bool)).distance


def _first(looks: Sampler, span: Span) -> float:
    """Return when a pair is first seen to touch in a span; its start where that is not seen."""
    times = np.linspace(span.start, span.end, _LOOKS)
    touches = np.flatnonzero(_distances(looks, times) <= 0.0)
    if not len(touches) or touches[0] == 0:
        return span.start
    before, behind = float(times[touches[0] - 1]), float(times[touches[0]])
    for _ in range(_HALVINGS):
        middle = (before + behind) / 2
        if _distances(looks, np.array([middle]))[0] <= 0.0:
            behind = middle
        else:
            before = middle
    return behind


def _slope(cell: Cell, track: MoveTrack, looks: Sampler, time: float) -> float | None:
    """Return the angle between a search and the normal of the face that it meets, rad."""
    tips = cell.tips(track.q_at([float(track.t[0]), time]))
    way = tips[1] - tips[0]
    length = float(np.linalg.norm(way))
    if length <= _BACK:
        return None
    gone = np.linalg.norm(cell.tips(track.q) - tips[0], axis=1)
    until = int(np.searchsorted(track.t, time))
    earlier = np.interp(length - _BACK, [*gone[:until], length], [*track.t[:until], time])
    seen = looks.nearest(np.array([earlier]), np.ones((1, 1), dtype=bool))
    off = seen.on_moving[0] - seen.on_standing[0]
    size = float(np.linalg.norm(off))
    if not np.isfinite(size) or size <= _LEAST:
        return None
    return float(np.arccos(np.clip(-off @ way / (size * length), -1.0, 1.0)))
