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

from pathsim.clearance.engine import MoveMeasure, Pair, Span, joined_spans
from pathsim.clearance.records import Clearance, Within

#: Moments looked at from the start of the first contact on, and so many of them at first: mostly
#: contact is seen by then.
_LOOKS, _FIRST = 33, 4


def at_first_touch(
    measure: MoveMeasure, pair: Pair, touching: Clearance, spans: Sequence[Span]
) -> Clearance:
    """Return ``touching`` as it is at the first of some moments at which the pair is seen to touch.

    ``spans``: outside of these the pair is proved not to touch. As it is, where no earlier moment
    of contact is seen: what is known of one found otherwise stays.
    """
    if touching.is_inside or not spans:
        return touching
    times = np.linspace(spans[0].start, spans[0].end, _LOOKS)
    times = times[times < touching.time]
    seen = measure.first_contact(*pair, times[:_FIRST])
    if seen is None and len(times) > _FIRST:
        seen = measure.first_contact(*pair, times[_FIRST:])
    if seen is None:
        return touching
    time, on_moving, on_standing = seen
    return replace(touching, upper=0.0, time=time, on_moving=on_moving, on_standing=on_standing)


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
