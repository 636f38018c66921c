"""Heights of a lift whose joint move looks too near: they need no trial. A look clears nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from pathsim.advice.edges import EdgeProver
from pathsim.advice.sites import Site
from pathsim.advice.trial import Evaluator
from pathsim.model import MoveKind
from pathsim.motion import MoveTrack
from pathsim.transforms import Array


def point_at(evaluator: Evaluator, site: Site, direction: Array, height: float) -> Array | None:
    """Return axes ``(axes,)`` of a site's point at a height, m; None where it is out of reach."""
    return _points_at(evaluator, site, direction, [height])[0]


def _points_at(
    evaluator: Evaluator, site: Site, direction: Array, heights: Sequence[float]
) -> list[Array | None]:
    """Return the same at several heights; those not worked out yet at once."""

    def nothing() -> Iterator[dict[int, Array | None]]:
        yield {}

    key = ("lifts at", site.kind, site.name, site.index, direction.tobytes())
    known = evaluator.once(key, nothing)[0]
    places = [round(1e6 * height) for height in heights]
    new = [(place, height) for place, height in zip(places, heights, strict=True)
           if place not in known]  # fmt: skip
    points = site.at_each(evaluator.cell, direction, [height for _, height in new])
    known.update(zip((place for place, _ in new), points, strict=True))
    return [known[place] for place in places]


def seen_short(
    evaluator: Evaluator, site: Site, direction: Array, heights: Sequence[float]
) -> list[bool]:
    """Tell at which heights, m, looks find the joint move at a site's point too near.

    False says nothing: it may be clear, or there is no joint move in the air to look at.
    """
    beyond = _beyond(evaluator, site)
    found = [False] * len(heights)
    if beyond is None:
        return found
    tips = _points_at(evaluator, site, direction, heights)
    reached = [(k, tip) for k, tip in enumerate(tips) if tip is not None]
    off = looks_at(evaluator, site.index).look_along([(tip, beyond) for _, tip in reached], 0.0)
    for (k, _), is_off in zip(reached, off.tolist(), strict=True):
        found[k] = not is_off
    return found


def seen_short_between(
    evaluator: Evaluator,
    pair: Sequence[Site],
    ways: Sequence[Array],
    heights: Sequence[tuple[float, float]],
) -> list[bool]:
    """Tell for which heights of two points, m, looks find the joint move between them too near.

    ``pair``: a retract and an approach point of one air move, ``ways (3,)`` each. False says
    nothing, as of ``seen_short``.
    """
    found = [False] * len(heights)
    track = evaluator.before.trajectory.tracks[pair[0].index]
    is_one = pair[0].index == pair[1].index and track.move.kind is MoveKind.JOINT
    if not is_one or track.move.is_fixed or not all(site.is_at_weld for site in pair):
        return found
    ends = []
    tips = [
        _points_at(evaluator, site, way, [both[side] for both in heights])
        for side, (site, way) in enumerate(zip(pair, ways, strict=True))
    ]
    for k, (first, second) in enumerate(zip(*tips, strict=True)):
        if first is not None and second is not None:
            ends.append((k, (first, second)))
    off = looks_at(evaluator, track.index).look_along([move for _, move in ends], 0.0)
    for (k, _), is_off in zip(ends, off.tolist(), strict=True):
        found[k] = not is_off
    return found


def looks_at(evaluator: Evaluator, index: int) -> EdgeProver:
    """Return what looks at moves that would stand for the program's move ``index``.

    The speeds are of no account for a look.
    """

    def made() -> Iterator[EdgeProver]:
        yield EdgeProver(evaluator.cell, evaluator.session, 0.25, 0.1, index)

    return evaluator.once(("looks", index), made)[0]


def _beyond(evaluator: Evaluator, site: Site) -> Array | None:
    """Return the other end ``(axes,)`` of the joint move at a site's point.

    None where that move is no joint move, or is by a weld at its other end too, where other margins
    hold, or where it is gone round a corner.
    """
    tracks = evaluator.before.trajectory.tracks
    leaves = site.kind == "retract"
    is_leg = tracks[site.index].move.kind is MoveKind.LINEAR  # it hits itself: the next one
    at = site.index + (is_leg if leaves else -is_leg)
    if not 0 <= at < len(tracks):
        return None
    track = tracks[at]
    following = tracks[at + 1] if at + 1 < len(tracks) else None
    before = tracks[at - 1] if at > 0 else None
    other = following if leaves else before
    if track.move.kind is not MoveKind.JOINT or track.move.is_fixed or not track.continuous:
        return None
    if other is not None and other.move.at_work:
        return None
    if any(_is_rounded(one) for one in (before, track)):
        return None
    return np.asarray(track.q[-1 if leaves else 0])


def _is_rounded(track: MoveTrack | None) -> bool:
    return track is not None and track.move.rounding > 0.0
