"""When two things are in contact, and where and when they come to touch first.

They are in contact where their surfaces meet, and while one lies within the other. Where surfaces
do not meet, nothing gets in or out: between two meetings of the surfaces, before the first and
behind the last, what is within stays within and what is outside stays outside. So one look at one
moment of each such gap tells of all of it.

A search ends at whatever contact it comes upon. A person asks where it begins, and the same cell
should show the same place whichever engine found it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from pathsim.clearance.engine import Engine, MoveMeasure, Pair, Span, joined_spans
from pathsim.clearance.records import Clearance, Within
from pathsim.motion import MoveTrack

#: Moments looked at from the start of the first contact on, and how many of them at first.
_LOOKS, _AT_FIRST = 33, 4


def at_first_touch(
    engine: Engine,
    measure: MoveMeasure,
    track: MoveTrack,
    pair: Pair,
    touching: Clearance,
    spans: Sequence[Span],
) -> Clearance:
    """Return ``touching`` as it is at the first of some moments at which the pair is seen to touch.

    ``measure``: the engine's on this move. ``spans``: outside of these the pair is proved not to
    touch. As it is, where no earlier moment of contact is seen: what is known of one found
    otherwise stays.
    """
    if touching.is_inside or not spans:
        return touching
    times = np.linspace(spans[0].start, spans[0].end, _LOOKS)
    times = times[times < touching.time]
    for some in np.split(times, [_AT_FIRST]):  # mostly it is among the very first
        for time in some[measure.touches_at(*pair, some)].tolist() if len(some) else []:
            seen = engine.looks(track, [pair]).nearest(np.array([time]), np.ones((1, 1), bool))
            if seen.distance[0] <= 0.0:
                return replace(touching, upper=0.0, time=time, on_moving=seen.on_moving[0],
                               on_standing=seen.on_standing[0])  # fmt: skip
    return touching


#: A gap shorter than this is none, s: times of knots are told no finer.
_SHORTEST_GAP = 1e-9


class ContactTime(NamedTuple):
    """When a pair is in contact (``spans``), of that when surfaces meet, and when one is within."""

    spans: tuple[Span, ...]
    meeting: tuple[Span, ...]
    within: tuple[Within, ...]


def contact_time(measure: MoveMeasure, pair: Pair, window: Span) -> ContactTime:
    """Return when a pair is in contact in ``window``; outside it is proved that it is not."""
    meeting = measure.intervals_below(*pair, window, 0.0)
    gaps, within = _gaps(meeting, window), []
    short = [gap for gap in gaps if gap.end - gap.start <= _SHORTEST_GAP]
    long = [gap for gap in gaps if gap.end - gap.start > _SHORTEST_GAP]
    if long:
        middles = np.array([(gap.start + gap.end) / 2 for gap in long])
        inner = measure.inner_at(*pair, middles)
        within = [Within(*gap, who) for gap, who in zip(long, inner, strict=True) if who]
    parts = [*meeting, *short, *(Span(one.start, one.end) for one in within)]
    return ContactTime(joined_spans(sorted(parts)), meeting, tuple(within))


def _gaps(spans: tuple[Span, ...], window: Span) -> list[Span]:
    """Return what lies between spans, and between them and the window's ends."""
    ends = [window.start, *(span.end for span in spans)]
    starts = [*(span.start for span in spans), window.end]
    return [Span(a, b) for a, b in zip(ends, starts, strict=True) if a < b]
