"""When and where two things that touch come to touch first.

A search ends at whatever contact it comes upon. A person asks where it begins, and the same cell
should show the same place whichever engine found it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pathsim.clearance.engine import Engine, Pair, Span
from pathsim.clearance.records import Clearance
from pathsim.motion import MoveTrack

#: Moments looked at from the start of the first contact on.
_LOOKS, _AT_ONCE = 33, 4


def at_first_touch(
    engine: Engine, track: MoveTrack, pair: Pair, touching: Clearance, spans: Sequence[Span]
) -> Clearance:
    """Return ``touching`` as it is at the first of some moments at which the pair is seen to touch.

    ``spans``: outside of these the pair is proved not to touch. As it is, where no earlier moment
    of contact is seen: what is known of one found otherwise stays.
    """
    if touching.is_inside or not spans:
        return touching
    times = np.linspace(spans[0].start, spans[0].end, _LOOKS)
    times = times[times < touching.time]
    if not len(times):
        return touching
    looks = engine.looks(track, [pair])
    for begin in range(0, len(times), _AT_ONCE):  # mostly it is among the very first
        some = times[begin : begin + _AT_ONCE]
        seen = looks.nearest(some, np.ones((len(some), 1), dtype=bool))
        touches = np.flatnonzero(seen.distance <= 0.0)
        if len(touches):
            k = int(touches[0])
            points = seen.on_moving[k], seen.on_standing[k]
            return replace(touching, upper=0.0, time=float(some[k]), on_moving=points[0],
                           on_standing=points[1])  # fmt: skip
    return touching
