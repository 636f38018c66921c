"""The ideal motion of ``cartesian.py`` at one moment, as kernels: share, turn, weave, held axes.

``ideal.py`` makes the record that these work on. What stands in the way of a pose is a number
here; ``cartesian.py`` has the words for it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.arm.wrist_kernel import rotated, wrist_branches
from pathsim.kernels.jit import kernel, kernel_inline
from pathsim.kernels.vectors import (
    KernelArray,
    Vector,
    add,
    along,
    compose,
    cross,
    length,
    row,
    scaled,
)

#: Columns of ``Ideal.pieces``: from when it holds, the share of the path there and how it goes
#: on (speed, acceleration, jerk), and the weave's phase there and how fast that goes on.
START, SHARE, SPEED, ACCELERATION, JERK, PHASE, RATE = 0, 1, 2, 3, 4, 5, 6
#: Rows of ``Ideal.way``: a straight line's start and way; or an arc's centre, the arm from there to
#: its start, and its axis.
FROM, WAY, AXIS = 0, 1, 2
#: Entries of ``Ideal.weave``: pattern (0: none), amplitude, tilt, end of weaving, and the width
#: over which directions turn at corners.
PATTERN, AMPLITUDE, TILT, END, WIDTH = 0, 1, 2, 3, 4
NO_WEAVE, SINE, ZIGZAG, CIRCLE, EIGHT, CRESCENT = 0, 1, 2, 3, 4, 5
#: Rows of ``Ideal.frames``: from the table's axis to the base (or to the axis that tilts it), from
#: the part to that axis, from the tool to the flange, from the base to the rail, and from the axis
#: that tilts the table to the base.
TABLE_BELOW, PART_TABLE, TCP_FLANGE, BASE_RAIL, TILT_BASE = 0, 1, 2, 3, 4
#: Rows of ``Room.frames``.
_TOOL, _FLANGE, _ON_TABLE, _TURNED, _OTHER = 0, 1, 2, 3, 4
_NO_SIDE = 1e-3
#: Whether there is a pose: a torch along the seam leaves a weave no side, and so does a joined seam
#: that turns back on itself.
IS_THERE, TORCH_ALONG, TURNS_BACK = 0, 1, 2
_TURN = 2.0 * np.pi


class Ideal(NamedTuple):
    """One straight move, arc or seam, and the closed form that solves it.

    ``pieces (k, 7)``; ``turns (m, 3, 12)``: matrices start, sine and versine of the tool's turns
    (``transforms.Turn``) as rows of ``[R | 0]``; ``turn_ends (m, 3)``: shares where each starts
    and ends, and its scale; ``way (3, 3)``; ``arc``: length in m, and angle in rad (0: a line);
    ``weave (5,)``; ``corners (2, 7)``: whether the path goes on round a corner at its start and
    at its end, and the directions to the left and along the travel there; ``frames (5, 12)``.
    ``held (c,)``: columns that are given, ``held_ends (m,)``: shares where a piece of their way
    ends, ``held_pieces (m, c, 4)``: a cubic in the share since the piece began; ``table``,
    ``tilt``, ``rail``: which of them is which (-1: there is none). The rest is what
    ``wrist_branches`` asks for; ``first``: the first column that is solved for.
    """

    pieces: KernelArray
    turns: KernelArray
    turn_ends: KernelArray
    way: KernelArray
    arc: tuple[float, float]
    weave: KernelArray
    corners: KernelArray
    frames: KernelArray
    held: KernelArray
    held_ends: KernelArray
    held_pieces: KernelArray
    table: int
    tilt: int
    rail: int
    axes: KernelArray
    vectors: KernelArray
    flange_back: KernelArray
    square: bool
    branch: KernelArray
    first: int


class Room(NamedTuple):
    """To work in: ``frames (5, 12)``, ``T (1, 4, 4)``, ``q (1, 1, 6)``, ``exists (1, 1)``."""

    frames: KernelArray
    T: KernelArray
    q: KernelArray
    exists: KernelArray


@kernel
def _piece_at(pieces: KernelArray, t: float) -> int:
    """Last piece that has begun at ``t``."""
    first, behind = 0, len(pieces)
    while behind - first > 1:
        middle = (first + behind) // 2
        if pieces[middle, START] <= t:
            first = middle
        else:
            behind = middle
    return first


@kernel
def share_at(pieces: KernelArray, k: int, t: float) -> float:
    """Share 0..1 of the path at ``t``, in piece ``k``."""
    x = t - pieces[k, START]
    bent = pieces[k, ACCELERATION] / 2.0 + x * pieces[k, JERK] / 6.0
    share = pieces[k, SHARE] + x * (pieces[k, SPEED] + x * bent)
    return float(min(max(share, 0.0), 1.0))


@kernel_inline
def _put_rotation(ideal: Ideal, s: float, out: KernelArray) -> None:
    """Write the tool's rotation at share ``s`` to row _TOOL of ``out``."""
    turns, ends = ideal.turns, ideal.turn_ends
    k = 0
    while k < len(ends) - 1 and s > ends[k, 1]:
        k += 1
    x = min(max((s - ends[k, 0]) / (ends[k, 1] - ends[k, 0]), 0.0), 1.0) * ends[k, 2]
    sine, half = np.sin(x), np.sin(x / 2.0)
    versine = 2.0 * half * half
    for j in range(12):
        out[_TOOL, j] = turns[k, 0, j] + sine * turns[k, 1, j] + versine * turns[k, 2, j]


@kernel_inline
def place_and_travel(ideal: Ideal, s: float) -> tuple[Vector, Vector]:
    """Where the seam's centre is at share ``s``, and the unit direction of travel there."""
    way, angle = ideal.way, ideal.arc[1]
    if angle == 0.0:
        direction = row(way, WAY)
        size = length(direction)
        unit = scaled(direction, 1.0 / size) if size > 0.0 else direction
        return along(row(way, FROM), s, direction), unit
    arm = rotated(row(way, AXIS), s * angle, row(way, WAY))
    radius = ideal.arc[0] / angle
    return add(row(way, FROM), arm), scaled(cross(row(way, AXIS), arm), 1.0 / radius)


@kernel
def _offsets(weave: KernelArray, phase: float) -> tuple[float, float]:
    """How far to the left and ahead of the seam's centre, m."""
    pattern, size = weave[PATTERN], weave[AMPLITUDE]
    side, ahead = np.sin(phase), 0.0
    if pattern == ZIGZAG:
        side = 2.0 / np.pi * np.arcsin(side)
    elif pattern == CIRCLE:
        ahead = np.cos(phase) - 1.0
    elif pattern == EIGHT:
        ahead = np.sin(2.0 * phase) / 2.0
    elif pattern == CRESCENT:
        ahead = -side * side / 2.0
    return size * side, size * ahead


@kernel
def mixed(a: Vector, b: Vector, w: float) -> tuple[Vector, bool]:
    """Return the unit vector on the way from a to b, and whether there is one."""
    mixed = add(scaled(a, 1.0 - w), scaled(b, w))
    size = length(mixed)
    if size < _NO_SIDE:
        return mixed, False
    return scaled(mixed, 1.0 / size), True


@kernel_inline
def _weave_directions(ideal: Ideal, s: float, travel: Vector,
                      out: KernelArray) -> tuple[Vector, Vector, int]:  # fmt: skip
    """Return unit vectors to the left and along the travel, and IS_THERE or why there are none.

    The tool's rotation stands in row _TOOL of ``out``: left is square to the travel and to the
    wire, and ``weave[TILT]`` turns it about the travel, towards the torch's body.
    """
    weave, corners = ideal.weave, ideal.corners
    z = (out[_TOOL, 2], out[_TOOL, 6], out[_TOOL, 10])
    left = cross(scaled(z, -1.0), travel)
    size = length(left)
    if size < _NO_SIDE:
        return left, travel, TORCH_ALONG
    left = scaled(left, 1.0 / size)
    if weave[TILT] != 0.0:
        up = cross(travel, left)
        left = add(scaled(left, np.cos(weave[TILT])), scaled(up, np.sin(weave[TILT])))
    for k in range(2):
        if corners[k, 0] == 0.0:
            continue
        distance = (s if k == 0 else 1.0 - s) * ideal.arc[0]
        w = min(max(1.0 - distance / weave[WIDTH], 0.0), 1.0)
        there = (corners[k, 1], corners[k, 2], corners[k, 3])
        left, has_side = mixed(left, there, w)
        there = (corners[k, 4], corners[k, 5], corners[k, 6])
        travel, goes_on = mixed(travel, there, w)
        if not (has_side and goes_on):
            return left, travel, TURNS_BACK
    return left, travel, IS_THERE


@kernel_inline
def directions_at(ideal: Ideal, s: float, out: KernelArray) -> tuple[Vector, Vector, int]:
    """Return what ``_weave_directions`` does at share ``s``; ``out (5, 12)`` is to work in."""
    _put_rotation(ideal, s, out)
    _, travel = place_and_travel(ideal, s)
    return _weave_directions(ideal, s, travel, out)


@kernel_inline
def _put_tool(ideal: Ideal, t: float, out: KernelArray) -> tuple[float, int]:
    """Write the tool's pose on the part at ``t`` to row _TOOL; its share, IS_THERE or why not."""
    pieces, weave = ideal.pieces, ideal.weave
    k = _piece_at(pieces, t)
    s = share_at(pieces, k, t)
    _put_rotation(ideal, s, out)
    p, travel = place_and_travel(ideal, s)
    if weave[PATTERN] != NO_WEAVE:
        left, ahead, why = _weave_directions(ideal, s, travel, out)
        if why != IS_THERE:
            return s, why
        if t < weave[END]:
            x, y = _offsets(weave, pieces[k, PHASE] + (t - pieces[k, START]) * pieces[k, RATE])
            p = along(along(p, x, left), y, ahead)
    out[_TOOL, 3], out[_TOOL, 7], out[_TOOL, 11] = p
    return s, IS_THERE


@kernel_inline
def _turn_about_z(angle: float, frames: KernelArray) -> None:
    """Write the pose in row _ON_TABLE, turned about z, to row _TURNED."""
    c, sine = np.cos(angle), np.sin(angle)
    for k in range(4):
        x, y = frames[_ON_TABLE, k], frames[_ON_TABLE, 4 + k]
        frames[_TURNED, k], frames[_TURNED, 4 + k] = c * x - sine * y, sine * x + c * y
        frames[_TURNED, 8 + k] = frames[_ON_TABLE, 8 + k]


@kernel_inline
def _put_flange(ideal: Ideal, t: float, out: KernelArray, j: int, frames: KernelArray) -> int:
    """Write held axes to row ``j`` of ``out``, the flange's pose in the base to row _FLANGE.

    Returns IS_THERE, or why there is no such pose.
    """
    held = ideal.held
    s, why = _put_tool(ideal, t, frames)
    if why != IS_THERE:
        return why
    piece, ends = 0, ideal.held_ends
    while piece < len(ends) - 1 and s > ends[piece]:
        piece += 1
    x = s if piece == 0 else s - ends[piece - 1]
    for k in range(len(held)):
        way = ideal.held_pieces[piece, k]
        out[j, held[k]] = way[0] + x * (way[1] + x * (way[2] + x * way[3]))
    compose(frames, _TOOL, ideal.frames, TCP_FLANGE, frames, _FLANGE)
    if ideal.table >= 0:
        compose(ideal.frames, PART_TABLE, frames, _FLANGE, frames, _ON_TABLE)
        _turn_about_z(out[j, held[ideal.table]], frames)
        compose(ideal.frames, TABLE_BELOW, frames, _TURNED, frames, _FLANGE)
    if ideal.tilt >= 0:
        for k in range(12):
            frames[_ON_TABLE, k] = frames[_FLANGE, k]
        _turn_about_z(out[j, held[ideal.tilt]], frames)
        compose(ideal.frames, TILT_BASE, frames, _TURNED, frames, _FLANGE)
    return IS_THERE


@kernel
def fill_flanges(ideal: Ideal, times: KernelArray, near: KernelArray, frames: KernelArray,
                 T: KernelArray, tools: KernelArray) -> int:  # fmt: skip
    """Fill poses of the flange in the base and of the tool on the part, ``(n, 4, 4)`` both.

    At ``times (n,)``; held axes go to ``near (n, axes)``, ``frames (5, 12)`` is to work in. Both
    come in with their last rows right. Returns IS_THERE, or why some pose is not there.
    """
    for i in range(len(times)):
        why = _put_flange(ideal, times[i], near, i, frames)
        if why != IS_THERE:
            return why
        for r in range(3):
            for k in range(4):
                T[i, r, k] = frames[_FLANGE, 4 * r + k]
                tools[i, r, k] = frames[_TOOL, 4 * r + k]
    return IS_THERE


@kernel_inline
def solve_at(ideal: Ideal, t: float, near: KernelArray, i: int, out: KernelArray, j: int,
             room: Room) -> bool:  # fmt: skip
    """Write the axes at ``t`` to row ``j`` of ``out``, in whole turns nearest to ``near[i]``.

    Tells whether the pose can be solved; where it is not, the row holds what comes nearest.
    """
    frames, T, held = room.frames, room.T, ideal.held
    if _put_flange(ideal, t, out, j, frames) != IS_THERE:
        return False
    if ideal.rail >= 0:
        compose(ideal.frames, BASE_RAIL, frames, _FLANGE, frames, _OTHER)
        for k in range(12):
            frames[_FLANGE, k] = frames[_OTHER, k]
        frames[_FLANGE, 11] -= out[j, held[ideal.rail]]
    for r in range(3):
        for k in range(4):
            T[0, r, k] = frames[_FLANGE, 4 * r + k]
    wrist_branches(ideal.axes, ideal.vectors, ideal.flange_back, ideal.square, ideal.branch, T,
                   room.q, room.exists)  # fmt: skip
    for k in range(6):
        value, column = room.q[0, 0, k], ideal.first + k
        out[j, column] = value + _TURN * np.round((near[i, column] - value) / _TURN)
    return bool(room.exists[0, 0])
