"""What kernels found, as records of clearance or as numbers alone."""

from __future__ import annotations

import numpy as np

from pathsim.clearance.engine import Bounds, numbered
from pathsim.clearance.records import Clearance
from pathsim.clearance.relative_chain import frame_of, moves_about
from pathsim.clearance.swept import search_node as entry
from pathsim.clearance.swept.batch import Batch
from pathsim.clearance.swept.jobs import INNER
from pathsim.model import Cell
from pathsim.motion import PATH_ERROR
from pathsim.transforms import Array, IntArray, apply


def clearances(
    cell: Cell, batch: Batch, measured: IntArray, rows: Array, caps: Array, tolerance: float
) -> list[Clearance]:
    """Return all questions of a batch answered; ``caps (pairs,)`` m, of each pair.

    ``rows (k, RESULT)``: what was found of the questions ``measured (k,)``; all others are beyond
    their caps.
    """
    cap = caps[batch.pair[measured]]
    is_far = np.isinf(rows[:, entry.UPPER]) & (rows[:, entry.LOWER] - PATH_ERROR >= cap)
    is_far &= (rows[:, entry.INSIDE] <= 0) & (rows[:, entry.CLOSED] != 0)
    near = measured[~is_far]
    found = _far(batch, caps)[batch.part, batch.pair]
    found[near] = _near(cell, batch, near, rows[~is_far], cap[~is_far], tolerance)
    return list(found)


def bounds(batch: Batch, measured: IntArray, rows: Array, caps: Array) -> Bounds:
    """Return the same as numbers alone; arguments as in ``clearances``."""
    lower, upper = caps[batch.pair], np.full(len(batch.pair), np.inf)
    is_inside = np.zeros(len(batch.pair), dtype=bool)
    inside = rows[:, entry.INSIDE] > 0
    least = np.minimum(np.maximum(rows[:, entry.LOWER] - PATH_ERROR, 0.0), lower[measured])
    lower[measured] = np.where(inside, 0.0, least)
    upper[measured] = np.where(inside, 0.0, rows[:, entry.UPPER])
    is_inside[measured] = inside
    return Bounds.of(lower, upper, is_inside)


def _far(batch: Batch, caps: Array) -> np.ndarray:
    """Return what is said where nothing is within the cap, ``(parts, pairs)``.

    Most pairs are that far all along, and of a stretch there is nothing else to say of them.
    """
    number, each = numbered(caps.tolist())
    far = np.empty((len(batch.parts), len(each)), dtype=object)
    for k, part in enumerate(batch.parts):
        for j, cap in enumerate(each):
            far[k, j] = Clearance(cap, np.inf, part.start, None, None, is_capped=True)
    return far[:, number]


def _near(
    cell: Cell, batch: Batch, asked: IntArray, rows: Array, caps: Array, tolerance: float
) -> list[Clearance]:
    """Return the clearances of the questions ``asked (k,)``; ``rows`` and ``caps`` are theirs."""
    windows = batch.queries.window[asked]
    starts, ends = np.array([span for _, span in batch.queries.windows])[windows].T
    upper, below = rows[:, entry.UPPER], rows[:, entry.LOWER] - PATH_ERROR
    was_seen = np.isfinite(upper)
    # The stretch may stand still for a moment that nobody uses.
    after = _real(batch, asked, rows[:, entry.TIME])
    times = np.where(was_seen, np.minimum(starts + after, ends), starts)
    points = rows[:, entry.ON_MOVING : entry.ON_STANDING + 3].reshape(-1, 2, 3)
    points = apply(_places(cell, batch, asked, times), points)
    lower = np.minimum(np.maximum(below, 0.0), caps)
    inner, is_wide = rows[:, entry.INSIDE], rows[:, entry.CLOSED] == 0
    is_capped = (below >= caps - tolerance) & (upper > caps)
    columns = (lower, upper, times, was_seen, inner, is_capped, is_wide)
    found = []
    for k, row in enumerate(zip(*(column.tolist() for column in columns), strict=True)):
        least, seen, time, has_points, inside, capped, wide = row
        if inside > 0:
            found.append(Clearance(0.0, 0.0, float(starts[k]), None, None, INNER[int(inside)]))
            continue
        on_moving, on_standing = points[k] if has_points else (None, None)
        found.append(
            Clearance(least, seen, time, on_moving, on_standing, is_capped=capped, is_wide=wide)
        )
    return found


def _real(batch: Batch, asked: IntArray, times: Array) -> Array:
    """Return what kernels told as times ``(k,)`` as they are on the moves, s from each start."""
    found, part = times.copy(), batch.part[asked]
    for k, one in enumerate(batch.parts):
        if one.line is not None:
            here = np.flatnonzero(part == k)
            if len(here):
                found[here] = one.real(times[here])
    return found


def _places(cell: Cell, batch: Batch, asked: IntArray, times: Array) -> Array:
    """``T_ref_mesh (k, 4, 4)`` of what stands, at a moment of each question."""
    which = batch.standing[batch.pair[asked]]
    T = np.array([standing.T_ref_mesh for standing in batch.standings])[which]
    is_carried = np.array([moves_about(standing) for standing in batch.standings])[which]
    for k in np.flatnonzero(is_carried).tolist():
        track, _, standing, _ = batch.queries[int(asked[k])]
        T[k] = frame_of(cell, standing, track.q_at(times[k])[0]) @ T[k]
    return T
