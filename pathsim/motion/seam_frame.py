"""Where left is on a seam: the directions that a weave goes in, by the kernels as plain Python."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.errors import MotionError
from pathsim.kernels.plain import plain
from pathsim.kernels.vectors import KernelArray
from pathsim.motion import ideal_kernel as kernels
from pathsim.motion.paths import ToolPath
from pathsim.transforms import Array

#: Why a weave has no side to go to.
TORCH_ALONG = "the torch points along the seam, so a weave has no side to go to"
TURNS_BACK = "a joined seam turns back on itself, where a weave has no side to go to"
#: The same by the kernels' numbers.
WORDS = {kernels.TORCH_ALONG: TORCH_ALONG, kernels.TURNS_BACK: TURNS_BACK}


class PathRecord(NamedTuple):
    """A path alone, with the fields of ``ideal_kernel.Ideal`` that a path decides."""

    turns: KernelArray
    turn_ends: KernelArray
    way: KernelArray
    arc: tuple[float, float]


def path_record(path: ToolPath) -> PathRecord:
    """Return what the kernels must know of a path."""
    form = path.form
    turns = np.zeros((len(form.turns), 3, 12))
    for k, (_, _, turn) in enumerate(form.turns):
        turns[k].reshape(3, 3, 4)[:, :, :3] = turn.parts
    ends = np.array([[start, end, turn.scale] for start, end, turn in form.turns])
    return PathRecord(turns, ends, form.way, (path.length, form.angle))


def travel_at(path: ToolPath, share: float) -> Array:
    """Return the unit direction of travel ``(3,)`` at a share 0..1; zero without a length."""
    _, travel = plain(kernels.place_and_travel)(_ideal(path, 0.0), share)
    return np.array(travel)


def directions_of(path: ToolPath, share: float, tilt: float) -> tuple[Array, Array]:
    """Return unit vectors ``(3,)`` to the left and along the travel at a share of a path.

    ``tilt``, rad, turns left about the travel, towards the torch's body. MotionError where the
    torch points along the seam.
    """
    room = np.zeros((5, 12))
    left, travel, why = plain(kernels.directions_at)(_ideal(path, tilt), share, room)
    if why != kernels.IS_THERE:
        raise MotionError(WORDS[why])
    return np.array(left), np.array(travel)


def half_way(a: Array, b: Array) -> Array:
    """Return the unit vector ``(3,)`` half way from ``a`` to ``b`` ``(3,)``.

    MotionError where they point against each other.
    """
    found, exists = plain(kernels.mixed)(tuple(a), tuple(b), 0.5)
    if not exists:
        raise MotionError(TURNS_BACK)
    return np.array(found)


def _ideal(path: ToolPath, tilt: float) -> kernels.Ideal:
    """Return a motion of which nothing but the path and a weave's tilt is told."""
    none = np.zeros((0, 0))
    weave = np.zeros(5)
    weave[kernels.TILT] = tilt
    turns, ends, way, arc = path_record(path)
    return kernels.Ideal(
        none, turns, ends, way, arc, weave, np.zeros((2, 7)), none, none, none,
        none, -1, -1, -1, none, none, none, False, none, 0,
    )  # fmt: skip
