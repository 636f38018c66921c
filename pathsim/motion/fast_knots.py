"""Laying knots by the kernels, compiled or as plain Python, where the arm has a closed form."""

from __future__ import annotations

import numpy as np

from pathsim.arm.inverse import ClosedForm
from pathsim.kernels.plain import as_it_runs
from pathsim.model.axes import Axes
from pathsim.motion.cartesian import CartesianMotion
from pathsim.motion.ideal import ideal_of
from pathsim.motion.knots import LARGEST_STEP, MOST_PARTS, SHORTEST, Knots, knot_times
from pathsim.motion.knots_kernel import lay_knots
from pathsim.motion.trajectory import PATH_ERROR
from pathsim.transforms import Array


def lay_fast(
    motion: CartesianMotion,
    axes: Axes,
    closed: ClosedForm,
    branch: int,
    q_start: Array,
    levers: Array,
) -> Knots | None:
    """Lay knots as ``knots.lay`` does; None where the move has no end that can be laid.

    ``branch``: of the closed form, on which the whole move stays; ``q_start``, ``levers``
    ``(axes,)``. ``lay`` then says how far the move goes, and why no further.
    """
    times = knot_times(motion.breaks, motion.coarse)
    t, q, is_whole = as_it_runs(lay_knots)(
        ideal_of(motion, axes, closed, branch), times, np.array(q_start, dtype=float),
        np.array(levers, dtype=float), PATH_ERROR, LARGEST_STEP, SHORTEST, MOST_PARTS,
    )  # fmt: skip
    return Knots(t, q) if is_whole else None
