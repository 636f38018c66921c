"""The centre line of every seam: the same program laid without its weaves."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from pathsim.model import Cell
from pathsim.model.laid_out import plainly
from pathsim.motion import MoveTrack, Trajectory, plan_program
from pathsim.transforms import Array, inverse


class OnSeam(NamedTuple):
    """The torch on a seam's centre: axes ``q (axes,)``, tool pose in the world and on the part.

    ``travel (3,)``: unit direction of travel on the part.
    """

    q: Array
    T_world_tcp: Array
    T_part_tcp: Array
    travel: Array


@lru_cache(maxsize=4)
def centre_tracks(cell: Cell) -> Trajectory:
    """Lay the cell's program with no weave on any seam."""
    moves = tuple(replace(move, weave=None) for move in plainly(cell.program.moves))
    return plan_program(replace(cell, program=replace(cell.program, moves=moves)))


def on_seam(cell: Cell, track: MoveTrack, share: float) -> OnSeam | None:
    """Where the torch is at ``share`` of a seam's way, weave left out; None if it is not there."""
    plain = centre_tracks(cell).tracks[track.index]
    if plain.fault is not None or len(plain.t) < 2:
        return None
    span = plain.travel_seconds
    end = plain.travel_start + span
    time = plain.travel_start + share * span
    near = np.clip([time - 0.01 * span, time + 0.01 * span], plain.travel_start, end)
    tips = cell.tips_on_part(plain.q_at(near))
    way = tips[1] - tips[0]
    size = float(np.linalg.norm(way))
    if size < 1e-9:
        return None
    q = plain.q_at(time)
    T_world = cell.tool_poses(q)[0]
    T_part = inverse(cell.table_motion(q)[0]) @ T_world
    return OnSeam(q[0], T_world, T_part, way / size)


class AlongSeam(NamedTuple):
    """The torch at some places of a seam's centre: ``shares (n,)`` of its way.

    Axes ``q (n, axes)``; tool poses in the world and on the part ``(n, 4, 4)``; ``travel (n, 3)``:
    unit directions of travel on the part.
    """

    shares: Array
    q: Array
    T_world_tcp: Array
    T_part_tcp: Array
    travel: Array


#: Directions of travel are taken between places so far before and behind: a share, and m at least.
_STEP, _SHORTEST_STEP = 0.01, 1e-3


def along_seam(cell: Cell, track: MoveTrack, count: int) -> AlongSeam | None:
    """Look at ``count`` places along a seam, weave left out; None if it is not there.

    From so near to its ends as directions of travel can be told on both sides: between two places
    at equal way before and behind, which is exact on lines and on circles.
    """
    plain = centre_tracks(cell).tracks[track.index]
    length = plain.tip_length
    if plain.fault is not None or len(plain.t) < 2 or length < 2e-9:
        return None
    step = min(max(_STEP, _SHORTEST_STEP / length), 0.25)
    shares = np.linspace(step, 1.0 - step, count)
    times = plain.travel_start + np.stack([shares - step, shares, shares + step]) * (
        plain.travel_seconds
    )
    q = plain.q_at(np.clip(times, plain.t[0], plain.t[-1]).ravel()).reshape(3, count, -1)
    way = cell.tips_on_part(q[2]) - cell.tips_on_part(q[0])
    size = np.linalg.norm(way, axis=1)
    if size.min() < 1e-9:
        return None
    T_world = cell.tool_poses(q[1])
    T_part = inverse(cell.table_motion(q[1])) @ T_world
    return AlongSeam(shares, q[1], T_world, T_part, way / size[:, None])
