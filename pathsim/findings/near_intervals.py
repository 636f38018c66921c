"""Stretches of a move where something is too near, and what they cost in joint speed."""

from __future__ import annotations

import numpy as np

from pathsim.clearance import Span
from pathsim.each_once import each_once
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, BoolArray

_LOOKS_PER_SEGMENT = 5


def looks(track: MoveTrack) -> Array:
    """Moments ``(n,)`` between and at the knots of a move."""
    if len(track.t) < 2:
        return track.t
    parts = np.linspace(track.t[:-1], track.t[1:], _LOOKS_PER_SEGMENT)
    return each_once(parts)


def spans_of(times: Array, inside: BoolArray) -> tuple[Span, ...]:
    """Stretches of looks that are inside, as spans."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return tuple(
        Span(float(times[a]), float(times[b - 1]))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    )


def fastest_joint(
    track: MoveTrack, spans: tuple[Span, ...], joints: tuple[int, ...]
) -> tuple[int, float]:
    """Joint of ``joints`` that turns nearest to its limit inside the spans, and its share of it."""
    inside = np.zeros(len(track.speed_ratio), dtype=bool)
    for span in spans:
        inside |= (track.t[1:] >= span.start) & (track.t[:-1] <= span.end)
    worst = track.speed_ratio[inside][:, list(joints)].max(axis=0, initial=0.0)
    best = int(np.argmax(worst))
    return joints[best], float(worst[best])


def seconds_in(spans: tuple[Span, ...]) -> float:
    """How long the spans last together, s."""
    return float(sum(span.end - span.start for span in spans))
