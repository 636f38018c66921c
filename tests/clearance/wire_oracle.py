"""What of the wire is in what, and when: points of the wire against boxes, moment by moment.

Knows nothing of pieces, stretches, margins or engines. All bodies are boxes, so that a point is in
one or not by three comparisons. Says what a welder would: the end of the wire may be in a part
while the arc is on, or close to where a seam begins or ends; nothing else may be in anything.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

#: Heights on the wire, m, and points of each ring.
_STEP, _ROUND = 5e-4, 8


class Box(NamedTuple):
    """A box in the world: pose ``T (4, 4)`` of its middle, half sizes ``(3,)``."""

    name: str
    is_part: bool
    T: np.ndarray
    half: np.ndarray


class Touch(NamedTuple):
    """A forbidden contact of the wire: move from 1, the box, and when (n,) s."""

    move: int
    box: str
    times: np.ndarray


def forbidden(cell, tracks, boxes, slack, moments=300):
    """Contacts of the wire that are forbidden, with limits moved by ``slack`` m.

    With slack above 0 only what is forbidden and deep by so much counts, below 0 also what is
    nearly so.
    """
    torch = cell.torch
    heights = np.arange(0.0, torch.wire_length + _STEP / 2, _STEP)
    radius = torch.wire_diameter / 2 - slack
    found = []
    for track in tracks:
        times = np.linspace(track.t[0], track.t[-1], moments)
        q = np.stack([np.interp(times, track.t, track.q[:, j]) for j in range(6)], axis=1)
        tools = cell.T_world_base @ cell.arm.pose(q) @ torch.T_flange_tcp
        may = _end_that_may(tracks, track, tools[:, :3, 3], slack)
        angles = 2 * np.pi * np.arange(_ROUND) / _ROUND
        ring = np.concatenate(
            [[[0.0, 0.0]], radius * np.stack([np.cos(angles), np.sin(angles)], 1)]
        )
        local = np.concatenate(
            [np.tile(ring, (len(heights), 1)), -np.repeat(heights, len(ring))[:, None]], axis=1
        )
        above = np.repeat(heights, len(ring))
        points = local @ np.moveaxis(tools[:, :3, :3], 1, 2) + tools[:, None, :3, 3]
        for box in boxes:
            seen = (points - box.T[:3, 3]) @ box.T[:3, :3]
            is_in = (np.abs(seen) < box.half - slack).all(axis=-1)
            if box.is_part:
                is_in &= above[None] > may[:, None]
            hit = is_in.any(axis=1)
            if hit.any():
                found.append(Touch(track.index + 1, box.name, times[hit]))
    return found


def _end_that_may(tracks, track, tips, slack):
    """How much of the wire may be in a part at each moment, m; less than nothing: none of it."""
    may = np.full(len(tips), -1.0)
    if track.move.arc_on:
        return np.full(len(tips), _end(track.move) + slack)
    for other, last in ((track.index - 1, True), (track.index + 1, False)):
        if 0 <= other < len(tracks) and tracks[other].move.arc_on:
            move = tracks[other].move
            place = tips[0] if last else tips[-1]
            close = np.linalg.norm(tips - place, axis=1) <= move.wire_end + slack
            may[close] = np.maximum(may[close], _end(move) + slack)
    return may


def _end(move):
    return move.wire_end + (move.weave.amplitude if move.weave else 0.0)


def signed(boxes, places):
    """Signed distance ``(n,)`` of places from the nearest of some boxes, inside negative, m."""
    all_of = []
    for box in boxes:
        out = np.abs((places - box.T[:3, 3]) @ box.T[:3, :3]) - box.half
        away = np.linalg.norm(np.maximum(out, 0.0), axis=1)
        all_of.append(away + np.minimum(out.max(axis=1), 0.0))
    return np.min(all_of, axis=0)
