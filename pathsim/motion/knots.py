"""Laying knots: as few joint vectors as an error bound allows, and no leap between them.

For any inverse, in batches, as a search needs it; the kernel lays the moves of a closed form.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pathsim.motion.trajectory import PATH_ERROR, FaultKind
from pathsim.transforms import Array, BoolArray

#: A segment shorter than this that still misses the bound is a leap, not a curve, s.
SHORTEST = 1e-5
MOST_PARTS = 12
_SAME_TIME = 1e-7
_CHECKS = np.array([0.25, 0.5, 0.75])
#: A joint that turns more than this between neighbouring coarse points has changed branch
#: or is about to; knots are put closer until it no longer does, or the leap is real.
LARGEST_STEP = 0.35  # rad


#: ``solve(t (n,), near (n, axes)) -> q (n, axes), solved (n,)``: the ideal motion at those times,
#: in the posture nearest to ``near``.
Solver = Callable[[Array, Array], tuple[Array, BoolArray]]


@dataclass(frozen=True, eq=False)
class Knots:
    """Knots ``t (n,)``, ``q (n, axes)``; ``fault`` says why they end before the move does.

    ``joint``: index of the axis that leaps.
    """

    t: Array
    q: Array
    fault: FaultKind | None = None
    joint: int | None = None


def lay(
    solve: Solver,
    q_start: Array,
    breaks: Array,
    coarse: Array,
    levers: Array,
    turning: BoolArray | None = None,
) -> Knots:
    """Lay knots along an ideal motion, of which ``solve`` gives the joint values.

    ``breaks``: times where the motion has corners, each becomes a knot. ``coarse``: times
    close enough together to carry the turn of every joint along. ``levers (dof,)``: longest
    distance from each axis to anything it carries. ``turning (axes,)``, where ``solve`` looks at
    ``near`` for whole turns of these axes only: then coarse times are solved all at once.

    The bound: at a quarter, half and three quarters of every segment the sum over joints
    of lever times the joint's distance from its ideal value is at most PATH_ERROR. That
    sum bounds how far *any* point of the arm is from its ideal place at that moment, and
    holds near a singularity too, where the tip alone would look still.
    """
    if turning is not None:
        laid = _carry_at_once(solve, q_start, knot_times(breaks, coarse), turning)
        if laid is not None:
            return _refine(solve, *laid, levers, None)
    t, q, fault = _carry(solve, q_start, coarse)
    extra = _apart(breaks[breaks <= t[-1]], t)
    if len(extra):
        near = np.stack([np.interp(extra, t, q[:, j]) for j in range(q.shape[1])], axis=-1)
        q_extra, solved = solve(extra, near)
        t = np.concatenate([t, extra[solved]])
        q = np.concatenate([q, q_extra[solved]])
        order = np.argsort(t, kind="stable")
        t, q = t[order], q[order]
        if not solved.all():
            limit = extra[~solved][0]
            t, q, fault = t[t < limit], q[t < limit], FaultKind.REACH
    return _refine(solve, t, q, levers, fault)


def knot_times(breaks: Array, coarse: Array) -> Array:
    """Coarse times and corners together, ascending, none nearly the same as another.

    Both have the two ends of the motion, which stay what they are.
    """
    times = np.concatenate([coarse, breaks])
    times.sort()
    is_kept = np.empty(len(times), dtype=bool)
    is_kept[0] = True
    np.greater(times[1:] - times[:-1], _SAME_TIME, out=is_kept[1:])
    kept = times[is_kept]
    if len(kept) == 1:  # a seam of a few nanometres
        return np.asarray(times[[0, -1]])
    kept[-1] = times[-1]
    return np.asarray(kept)


def _apart(times: Array, known: Array) -> Array:
    """Sorted ``times`` without those that nearly coincide with each other or with ``known``.

    ``known`` comes sorted.

    Two knots a rounding error apart would show a joint speed made of rounding errors.
    """
    kept = np.sort(times)
    kept = kept[np.diff(kept, prepend=-np.inf) > _SAME_TIME]
    behind = np.searchsorted(known, kept)
    before = kept - known[np.maximum(behind - 1, 0)]
    after = known[np.minimum(behind, len(known) - 1)] - kept
    return np.asarray(kept[np.minimum(np.abs(before), np.abs(after)) > _SAME_TIME])


def _carry(solve: Solver, q_start: Array, coarse: Array) -> tuple[Array, Array, FaultKind | None]:
    """Solve coarse times one after the other, each near the one before."""
    times, rows = [coarse[0]], [q_start]
    for index in range(1, len(coarse)):
        q, solved = solve(coarse[index : index + 1], rows[-1][None])
        if not solved[0]:
            reached = _last_reachable(solve, rows[-1], times[-1], coarse[index])
            if reached is not None:
                times.append(reached[0])
                rows.append(reached[1])
            return np.array(times), np.array(rows), FaultKind.REACH
        times.append(coarse[index])
        rows.append(q[0])
    return np.array(times), np.array(rows), None


def _carry_at_once(
    solve: Solver, q_start: Array, coarse: Array, turning: BoolArray
) -> tuple[Array, Array] | None:
    """Solve all times together, then carry whole turns along; None when one fails."""
    q, solved = solve(coarse[1:], np.repeat(q_start[None], len(coarse) - 1, axis=0))
    if not solved.all():
        return None
    rows = np.concatenate([q_start[None], q])
    turns = np.where(turning, np.round(np.diff(rows, axis=0) / (2 * np.pi)), 0.0)
    rows[1:] -= 2 * np.pi * np.cumsum(turns, axis=0)
    return np.asarray(coarse), rows


def _last_reachable(
    solve: Solver, near: Array, good: float, bad: float
) -> tuple[float, Array] | None:
    """Bisect to the last time that can be solved."""
    best = None
    while bad - good > 1e-4:
        middle = (good + bad) / 2
        q, solved = solve(np.array([middle]), near[None])
        if solved[0]:
            good, near = middle, q[0]
            best = (middle, q[0])
        else:
            bad = middle
    return best


def _refine(
    solve: Solver,
    t: Array,
    q: Array,
    levers: Array,
    fault: FaultKind | None,
) -> Knots:
    """Split segments until every one keeps the bound."""
    done_t, done_q = [t[:1]], [q[:1]]
    ta, qa, tb, qb = t[:-1], q[:-1], t[1:], q[1:]
    end, why, joint = np.inf, fault, None
    while len(ta):
        inside = ta[:, None] + _CHECKS * (tb - ta)[:, None]
        even = qa[:, None, :] + _CHECKS[:, None] * (qb - qa)[:, None, :]
        shape = even.shape
        found, solved = solve(inside.ravel(), even.reshape(-1, shape[-1]))
        miss = (np.abs(found.reshape(shape) - even) @ levers).max(axis=1)
        leap = np.asarray(np.abs(qb - qa).max(axis=1) > LARGEST_STEP)
        bad: BoolArray = np.any(~solved.reshape(shape[:2]), axis=1)
        good = (miss <= PATH_ERROR) & ~bad & ~leap
        done_t.append(tb[good])
        done_q.append(qb[good])
        stuck: BoolArray = ~good & (tb - ta < SHORTEST)
        if stuck.any() and ta[stuck].min() < end:
            first = np.flatnonzero(stuck)[np.argmin(ta[stuck])]
            end = ta[first]
            why = FaultKind.REACH if bad[first] else FaultKind.JUMP
            joint = None if bad[first] else int(np.argmax(np.abs(qb - qa)[first]))
        split = ~good & ~stuck & (ta < end)
        segments = ta[split], qa[split], tb[split], qb[split]
        ta, qa, tb, qb = _split(solve, *segments, miss[split])
    t_all, q_all = np.concatenate(done_t), np.concatenate(done_q)
    order = np.argsort(t_all, kind="stable")
    keep = order[t_all[order] <= end]
    return Knots(t_all[keep], q_all[keep], why, joint)


def _split(
    solve: Solver,
    ta: Array,
    qa: Array,
    tb: Array,
    qb: Array,
    miss: Array,
) -> tuple[Array, Array, Array, Array]:
    """Divide each segment into as many parts as its error (quadratic in length) asks for."""
    if len(ta) == 0:
        return ta, qa, tb, qb
    with np.errstate(invalid="ignore"):
        wanted = np.ceil(1.1 * np.sqrt(np.nan_to_num(miss, nan=1.0) / PATH_ERROR))
    parts = np.clip(wanted, 2, MOST_PARTS).astype(int)
    owner = np.repeat(np.arange(len(ta)), parts)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(parts) - parts, parts)
    share0, share1 = place / parts[owner], (place + 1) / parts[owner]
    span, turn = (tb - ta)[owner], (qb - qa)[owner]
    t0, t1 = ta[owner] + share0 * span, ta[owner] + share1 * span
    first, last = place == 0, place == parts[owner] - 1
    t1[last] = tb[owner[last]]
    q1 = qa[owner] + share1[:, None] * turn
    inner = ~last
    solved_q, solved = solve(t1[inner], q1[inner])
    # An unsolved pose keeps the even value: the segment then fails its check again, gets
    # shorter, and ends as the fault it is.
    q1[inner] = np.where(solved[:, None], solved_q, q1[inner])
    q1[last] = qb[owner[last]]
    q0 = np.empty_like(q1)
    q0[~first] = q1[np.flatnonzero(~first) - 1]
    q0[first] = qa[owner[first]]
    t0[~first] = t1[np.flatnonzero(~first) - 1]
    return t0, q0, t1, q1
