"""The centre line of every seam: the same program laid without its weaves."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from pathsim.model import Cell
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
    moves = tuple(replace(move, weave=None) for move in cell.program.moves)
    return plan_program(replace(cell, program=replace(cell.program, moves=moves)))


def on_seam(cell: Cell, track: MoveTrack, share: float) -> OnSeam | None:
    """Where the torch is at ``share`` of a seam's way, weave left out; None if it is not there."""
    plain = centre_tracks(cell).tracks[track.index]
    if plain.fault is not None or len(plain.t) < 2:
        return None
    span = plain.travel_seconds
    end = float(plain.t[0]) + span
    time = float(plain.t[0]) + share * span
    near = np.clip([time - 0.01 * span, time + 0.01 * span], plain.t[0], end)
    tips = cell.tips_on_part(plain.q_at(near))
    way = tips[1] - tips[0]
    size = float(np.linalg.norm(way))
    if size < 1e-9:
        return None
    q = plain.q_at(time)
    T_world = cell.tool_poses(q)[0]
    T_part = inverse(cell.table_motion(q)[0]) @ T_world
    return OnSeam(q[0], T_world, T_part, way / size)
