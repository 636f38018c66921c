"""What the kernels must know of a straight move, an arc or a seam: its record, made once a move."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from pathsim.arm.inverse import ClosedForm
from pathsim.errors import MotionError
from pathsim.kernels.arrays import as_asked
from pathsim.kernels.plain import as_it_runs
from pathsim.kernels.vectors import KernelArray
from pathsim.model import Pattern
from pathsim.model.axes import Axes
from pathsim.motion import ideal_kernel as kernels
from pathsim.motion.cartesian import CartesianMotion
from pathsim.motion.ideal_kernel import Ideal
from pathsim.motion.seam_frame import WORDS, path_record
from pathsim.transforms import Array, inverse

_PATTERNS = {
    Pattern.SINE: kernels.SINE,
    Pattern.ZIGZAG: kernels.ZIGZAG,
    Pattern.CIRCLE: kernels.CIRCLE,
    Pattern.EIGHT: kernels.EIGHT,
    Pattern.CRESCENT: kernels.CRESCENT,
}


def ideal_of(motion: CartesianMotion, axes: Axes, closed: ClosedForm, branch: int) -> Ideal:
    """Return the record of a motion that is solved on one branch of a closed form."""
    inverse_part = (*closed.geometry.for_kernel, np.array([branch], dtype=np.int64), closed.first)
    frames = _frames(motion)
    if closed.first:
        frames[kernels.BASE_RAIL] = inverse(closed.arm.fixed[0])[:3].reshape(12)
    held = np.array(axes.held, dtype=np.int64)
    return _record(motion, held, frames, 0 if closed.first else -1, inverse_part)


class Poses(NamedTuple):
    """An ideal motion at some times.

    ``held (n, k)``: held axes; ``flange``: in the arm's base, ``tool``: on the part, weave and
    all, both ``(n, 4, 4)``.
    """

    held: Array
    flange: Array
    tool: Array


def poses_at(motion: CartesianMotion, t: Array) -> Poses:
    """Return a motion's poses at times ``t (n,)``; MotionError where a weave has no side."""
    count = len(motion.held.start)
    nothing = (np.zeros((6, 3)), np.zeros((6, 3)), np.zeros((3, 3)), False,
               np.zeros(1, dtype=np.int64), 0)  # fmt: skip
    ideal = _record(motion, np.arange(count, dtype=np.int64), _frames(motion), -1, nothing)
    times = as_asked(t, float)
    flange, tool = np.tile(np.eye(4), (2, len(times), 1, 1))
    held = np.zeros((len(times), count))
    fill = as_it_runs(kernels.fill_flanges)
    why = fill(ideal, times, held, np.zeros((5, 12)), flange, tool)
    if why != kernels.IS_THERE:
        raise MotionError(WORDS[why])
    return Poses(held, flange, tool)


def _record(motion: CartesianMotion, held: KernelArray, frames: Array, rail: int,
            inverse_part: tuple[Any, ...]) -> Ideal:  # fmt: skip
    return Ideal(
        _pieces(motion), *path_record(motion.path),
        _weave(motion), _corners(motion), frames,
        held, motion.held.ends, motion.held.pieces, *_table_columns(motion, len(held)), rail,
        *inverse_part,
    )  # fmt: skip


def _table_columns(motion: CartesianMotion, held: int) -> tuple[int, int]:
    """Which of the held axes is the table and which its tilt; -1 where there is none."""
    if motion.table is None:
        return -1, -1
    return held - 1, -1 if motion.table.tilt is None else held - 2


def _pieces(motion: CartesianMotion) -> Array:
    """Share of the path over time, and the weave's phase, ``(k, 7)``."""
    if motion.law is not None:
        phases = motion.law.phases
        pieces = np.zeros((len(phases), 7))
        pieces[:, : kernels.PHASE] = phases
        return pieces
    place = motion.place
    if place is None or place.schedule is None:
        return np.array([[0.0, 0.0, 1.0 / motion.travel_time, 0.0, 0.0, 0.0, 0.0]])
    phases = place.schedule.phases
    pieces = np.zeros((len(phases), 7))
    pieces[:, kernels.START] = phases[:, 0] - place.start
    pieces[:, kernels.SHARE] = (phases[:, 1] - place.gone) / place.travel
    pieces[:, kernels.SPEED] = phases[:, 2] / place.travel
    pieces[:, kernels.PHASE :] = phases[:, 3:]
    return pieces


def _weave(motion: CartesianMotion) -> Array:
    weave, place = motion.weave, motion.place
    if weave is None or place is None or place.schedule is None:
        return np.zeros(5)
    end = place.schedule.end - place.start
    pattern = _PATTERNS[weave.pattern]
    return np.array([pattern, weave.amplitude, weave.tilt, end, motion.corner_width])


def _corners(motion: CartesianMotion) -> Array:
    corners = np.zeros((2, 7))
    for k, corner in enumerate(motion.corners):
        if corner is not None:
            corners[k] = np.concatenate([[1.0], *corner])
    return corners


def _frames(motion: CartesianMotion) -> Array:
    """Poses between the part and what is solved for, as rows ``(5, 12)`` of ``[R | p]``."""
    frames = np.zeros((5, 3, 4))
    frames[kernels.TCP_FLANGE] = motion.T_tcp_flange[:3]
    if motion.table is not None:
        T_world_axis, tilt = motion.table.T_world_axis, motion.table.tilt
        T_below_world = motion.T_base_world
        if tilt is not None:
            T_below_world = inverse(tilt.T_world_axis)
            frames[kernels.TILT_BASE] = (motion.T_base_world @ tilt.T_world_axis)[:3]
        frames[kernels.TABLE_BELOW] = (T_below_world @ T_world_axis)[:3]
        frames[kernels.PART_TABLE] = inverse(T_world_axis)[:3]
    return frames.reshape(5, 12)
