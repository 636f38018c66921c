"""What the kernels found, as clearances in the world."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pathsim.clearance.engine import Question
from pathsim.clearance.fast import entry
from pathsim.clearance.fast.batch import Batch
from pathsim.clearance.fast.records import Whole
from pathsim.clearance.moving_chain import frame_of, moves_about
from pathsim.clearance.records import Clearance
from pathsim.model import Cell
from pathsim.motion import PATH_ERROR
from pathsim.transforms import Array, apply


def clearances(
    cell: Cell, batch: Batch, rows: Array, caps: Array, tolerance: float
) -> list[Clearance]:
    """Return rows of results ``(n, RESULT)`` as clearances; ``caps (n,)`` of each question, m."""
    is_far = np.isinf(rows[:, entry.UPPER]) & (rows[:, entry.LOWER] - PATH_ERROR >= caps)
    is_far &= (rows[:, entry.INSIDE] <= 0) & (rows[:, entry.CLOSED] != 0)
    near = np.flatnonzero(~is_far)
    told = iter(_near(cell, batch, near, rows[near], caps[near], tolerance))
    # Most pairs are beyond the cap all along, and of these there is nothing else to say.
    far: dict[tuple[int, float], Clearance] = {}
    found = []
    for part, cap, beyond in zip(batch.part.tolist(), caps.tolist(), is_far.tolist(), strict=True):
        if not beyond:
            found.append(next(told))
            continue
        if (part, cap) not in far:
            start = batch.parts[part].start
            far[part, cap] = Clearance(cap, np.inf, start, None, None, is_capped=True)
        found.append(far[part, cap])
    return found


def _near(
    cell: Cell, batch: Batch, asked: Whole, rows: Array, caps: Array, tolerance: float
) -> Iterator[Clearance]:
    """Yield the clearances of the questions ``asked (k,)``; ``rows`` and ``caps`` are theirs."""
    questions = [batch.questions[i] for i in asked.tolist()]
    starts = np.array([question.window.start for question in questions])
    ends = np.array([question.window.end for question in questions])
    upper, below = rows[:, entry.UPPER], rows[:, entry.LOWER] - PATH_ERROR
    was_seen, is_inside = np.isfinite(upper), rows[:, entry.INSIDE] > 0
    # The stretch may stand still for a moment that nobody uses.
    times = np.where(was_seen, np.minimum(starts + rows[:, entry.TIME], ends), starts).tolist()
    lower = np.minimum(np.maximum(below, 0.0), caps).tolist()
    is_capped = (below >= caps - tolerance) & (upper > caps)
    is_wide = rows[:, entry.CLOSED] == 0
    # One pose for each, even where no points will be told: so that they are placed all at once.
    T = [_place(cell, question, time) for question, time in zip(questions, times, strict=True)]
    points = rows[:, entry.ON_MOVING : entry.ON_STANDING + 3].reshape(-1, 2, 3)
    points = apply(np.array(T).reshape(-1, 4, 4), points)
    for k, question in enumerate(questions):
        if is_inside[k]:
            start = question.window.start
            yield Clearance(0.0, 0.0, start, None, None, is_inside=True)
            continue
        yield Clearance(
            lower=lower[k],
            upper=float(upper[k]),
            time=times[k],
            on_moving=points[k, 0] if was_seen[k] else None,
            on_standing=points[k, 1] if was_seen[k] else None,
            is_capped=bool(is_capped[k]),
            is_wide=bool(is_wide[k]),
        )


def _place(cell: Cell, question: Question, time: float) -> Array:
    """``T_world_source (4, 4)`` of what stands, at a moment."""
    standing, T = question.standing, question.standing.T_world_source
    if not moves_about(standing):
        return T
    return np.asarray(frame_of(cell, standing, question.track.q_at(time)[0]) @ T)
