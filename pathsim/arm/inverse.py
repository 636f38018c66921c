"""Inverse kinematics: all solutions of one pose, and following a path on one branch."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import ArrayLike

from pathsim.arm.forward import axis_frames
from pathsim.arm.numeric_inverse import NumericInverse, posture_gap
from pathsim.arm.wrist_inverse import BRANCHES, WristGeometry, wrist_geometry, wrist_solutions
from pathsim.kernels.plain import as_it_runs
from pathsim.transforms import Array, BoolArray, inverse

if TYPE_CHECKING:
    from pathsim.arm.chain import Arm

_TURN = 2 * np.pi


@dataclass(frozen=True, eq=False)
class ClosedForm:
    """Closed-form inverse of six turning joints, perhaps behind a rail that is held.

    ``first`` is 0, or 1 when joint 0 is the rail: the six joints then stand on its slide.
    """

    arm: Arm
    geometry: WristGeometry
    first: int

    def solve(
        self, T: Array, held: Array | float, branches: Sequence[int] = range(BRANCHES)
    ) -> tuple[Array, BoolArray]:
        """Solutions ``q (n, b, dof)`` of poses ``T (n, 4, 4)``, and which exist ``(n, b)``.

        ``held``: the rail's value, one or ``(n,)``. ``branches``: all eight when not given.
        """
        n = len(T)
        q = np.zeros((n, len(branches), self.arm.dof))
        if self.first:
            q[:, :, 0] = np.asarray(held, float).reshape(-1, 1)
            T = self.on_rail(T, held)
        q[:, :, self.first :], exists = wrist_solutions(self.geometry, T, branches)
        return q, exists

    def on_rail(self, T: Array, held: Array | float) -> Array:
        """Poses ``T (n, 4, 4)`` as the slide of the rail sees them; ``held`` as for ``solve``."""
        values = np.broadcast_to(np.asarray(held, float), (len(T),))
        slide = axis_frames(self.arm.fixed[:1], values[:, None], self.arm.prismatic[:1])[:, 0]
        return np.asarray(inverse(slide) @ T)

    def held_value(self, q: Array) -> float:
        """Return the rail's value in ``q (dof,)``; 0 without one."""
        return float(q[0]) if self.first else 0.0


@lru_cache(maxsize=32)
def closed_form(arm: Arm) -> ClosedForm | None:
    """Return the closed-form inverse of an arm, None when it has none."""
    if arm.dof == 6 and not arm.prismatic.any():
        first = 0
    elif arm.dof == 7 and arm.has_rail and not arm.prismatic[1:].any():
        first = 1
    else:
        return None
    geometry = wrist_geometry(arm.fixed[first:], arm.ends[first:])
    return None if geometry is None else ClosedForm(arm, geometry, first)


def solutions(
    arm: Arm, T: Array, held: ArrayLike, T_flange_tcp: Array, near: Array | None = None
) -> Array:
    """All joint vectors ``(k, dof)`` within limits at ``T_base_flange (4, 4)``.

    ``held``: the held joint's value, or joint values ``(dof,)`` to take it from. ``near (dof,)``:
    where a search starts from too.
    """
    values = np.asarray(held, float)
    value = float(values[arm.held or 0]) if values.ndim else float(values)
    solver = closed_form(arm)
    if solver is None:
        found = NumericInverse(arm, T_flange_tcp).search(T, value, near)
    else:
        q, exists = solver.solve(T[None], value)
        rows = q[0][exists[0]]
        found = _distinct(arm, rows[_are_there(arm, rows, T)])
    return at_all_turns(arm, found)


#: So far from a pose, m and as an entry of a matrix, a solution of it is none. Ten times what the
#: rotation of a pose that is given may be off (``require_poses``): nothing can be at such a pose.
_ELSEWHERE = 1e-5


def _are_there(arm: Arm, q: Array, T: Array) -> BoolArray:
    """Tell which of ``q (..., dof)`` bring the flange to ``T (..., 4, 4)``.

    Whatever a closed form says: an arm that is laid to another place would be measured there, and
    read as clear of what stands here.
    """
    return np.asarray(np.abs(arm.pose(q) - T).max(axis=(-2, -1)) < _ELSEWHERE)


def at_all_turns(arm: Arm, found: Array) -> Array:
    """Each of ``found (k, dof)`` at all the whole turns that keep its joints within limits."""
    turned = [list(_turns(arm, row)) for row in found]
    rows = np.array(list(itertools.chain.from_iterable(turned))).reshape(-1, arm.dof)
    return rows if arm.shown_limits is None else rows[arm.within_limits(rows).all(axis=1)]


def _distinct(arm: Arm, found: Array) -> Array:
    """Drop solutions that are the same posture (branches meet at a singularity)."""
    kept: list[Array] = []
    for row in found:
        if all(posture_gap(arm, row, other) > 1e-9 for other in kept):
            kept.append(row)
    return np.array(kept).reshape(-1, found.shape[-1])


def _turns(arm: Arm, row: Array) -> itertools.product[tuple[float, ...]]:
    """Every combination of whole turns that keeps each joint within its limits."""
    choices = []
    for value, low, high, slides in zip(row, arm.lower, arm.upper, arm.prismatic, strict=True):
        if slides or not (np.isfinite(low) and np.isfinite(high)):
            inside = low - 1e-9 <= value <= high + 1e-9
            choices.append([float(value)] if inside else [])
            continue
        first = int(np.ceil((low - 1e-9 - value) / _TURN))
        last = int(np.floor((high + 1e-9 - value) / _TURN))
        choices.append([float(value + k * _TURN) for k in range(first, last + 1)])
    return itertools.product(*choices)


def nearest_first(arm: Arm, found: Array, near: Array) -> Array:
    """Order solutions ``(k, dof)`` by how far they are from ``near (dof,)``.

    By the joint that turns farthest, then by the sum over all joints: of two that ask as much of
    that one joint the one that spares the others comes first. The held joint is where it has to
    be and does not count.
    """
    gap = np.abs(found - near)
    if arm.held is not None:
        gap[:, arm.held] = 0.0
    # Rounded, so that the last bits of the joint that turns farthest do not decide.
    order = np.lexsort([gap.sum(axis=1), np.round(gap.max(axis=1, initial=0.0), 9)])
    return np.asarray(found[order])


def nearest_at_each(arm: Arm, T: Array, near: Array) -> tuple[Array, BoolArray] | None:
    """Return the solution ``q (n, dof)`` of each ``T_base_flange (n, 4, 4)`` nearest to ``near``.

    ``near (n, dof)`` has the held joint's values. It is the first of ``nearest_first``, and
    ``found (n,)`` tells where there is one. None for an arm where each pose needs a search:
    without a closed form, or where limits depend on other joints, so that the whole turns of one
    joint cannot be chosen without those of another.
    """
    solver = closed_form(arm)
    if solver is None or arm.shown_limits is not None:
        return None
    q, exists = solver.solve(T, near[:, 0])
    exists = exists & _are_there(arm, q, T[:, None])
    start = near[:, None]
    turns = np.round((start - q) / _TURN)
    has_turns = ~arm.prismatic & ~unlimited_joints(arm)
    low, high = arm.lower - 1e-9, arm.upper + 1e-9
    first = np.ceil((low - q)[..., has_turns] / _TURN)
    last = np.floor((high - q)[..., has_turns] / _TURN)
    exists = exists & (first <= last).all(axis=-1)
    exists &= ((low <= q) & (q <= high))[..., ~has_turns].all(axis=-1)
    turns[..., has_turns] = np.clip(turns[..., has_turns], first, np.maximum(first, last))
    turns[..., arm.prismatic] = 0.0
    q = q + _TURN * turns
    gap = np.abs(q - start)
    if arm.held is not None:
        gap[..., arm.held] = 0.0
    farthest = np.where(exists, np.round(gap.max(axis=-1), 9), np.inf)
    is_least = exists & (farthest == farthest.min(axis=-1, keepdims=True))
    best = np.argmin(np.where(is_least, gap.sum(axis=-1), np.inf), axis=-1)
    return q[np.arange(len(q)), best], np.asarray(exists.any(axis=-1))


def unlimited_joints(arm: Arm) -> BoolArray:
    """Tell which joints ``(dof,)`` turn on and on: each whole turn of them is another solution."""
    return np.asarray(~arm.prismatic & ~(np.isfinite(arm.lower) & np.isfinite(arm.upper)))


def at_nearest_turns(arm: Arm, found: Array, near: Array) -> Array:
    """Return solutions ``(k, dof)`` with joints without limits at the turn nearest to ``near``."""
    turns = np.where(unlimited_joints(arm), np.round((near - found) / _TURN), 0.0)
    return np.asarray(found + _TURN * turns)


class Follower(Protocol):
    """Solves poses along a path without leaving the branch it was made for."""

    def __call__(self, T: Array, near: Array) -> tuple[Array, BoolArray]:
        """Joints ``(n, dof)`` for ``T_base_flange (n, 4, 4)`` nearest ``near (n, dof)``.

        The held joint keeps its value in ``near``. The second value ``(n,)`` tells which
        poses could be solved.
        """
        ...


def follower(
    arm: Arm, q_start: Array, q_end: Array | None = None, T_flange_tcp: Array | None = None
) -> Follower:
    """Return a follower on the branch of ``q_start (dof,)``.

    ``q_end`` decides where the start lies on a singularity and belongs to two branches.
    ``T_flange_tcp`` is needed for an arm of five joints (``Arm.inverse``).
    """
    solver = closed_form(arm)
    if solver is None:
        return NumericInverse(arm, np.eye(4) if T_flange_tcp is None else T_flange_tcp).follow
    closed, branch = solver, branch_of(solver, q_start, q_end)

    def by_branch(T: Array, near: Array) -> tuple[Array, BoolArray]:
        q, exists = closed.solve(T, near[:, 0], (branch,))
        chosen = q[:, 0]
        turns = np.where(arm.prismatic, 0.0, np.round((near - chosen) / _TURN))
        return chosen + _TURN * turns, exists[:, 0]

    return by_branch


def branch_of(
    solver: ClosedForm, q: Array, q_next: Array | None = None, T: Array | None = None
) -> int:
    """Return the branch 0..7 whose solution at ``pose(q)`` is ``q`` itself.

    ``q_next`` decides between two branches that meet there; ``T``: the pose, where it is known.
    """
    miss: list[float]
    miss = _branch_misses(solver, q, solver.arm.pose(q) if T is None else T).tolist()
    least = min(miss)
    close = [branch for branch, value in enumerate(miss) if value < least + 1e-6]
    if q_next is None or len(close) < 2:
        return miss.index(least)
    later = _branch_misses(solver, q_next, solver.arm.pose(q_next))
    return close[int(np.argmin(later[close]))]


def nearest_posture(solver: ClosedForm, T: Array, held: float, q: Array) -> Array | None:
    """Return the solution ``(dof,)`` of ``T (1, 4, 4)`` least away from ``q (dof,)``; None if none.

    Whole turns do not count.
    """
    found, exists = solver.solve(T, held)
    rows = found[0][exists[0]]
    if len(rows) == 0:
        return None
    gap = rows - q
    gap = np.abs(gap - _TURN * np.round(gap / _TURN))
    return np.asarray(rows[np.argmin(gap.max(axis=1))])


def _branch_misses(solver: ClosedForm, q: Array, T: Array) -> Array:
    """How far each branch's solution at ``T`` is from ``q``, ``(8,)``.

    Only the sum of joints 4 and 6 counts when aligned.
    """
    from pathsim.arm.branch_kernel import branch_misses

    pose = np.array(T[None] if not solver.first else solver.on_rail(T[None], solver.held_value(q)))
    found, exists = np.empty((1, BRANCHES, 6)), np.empty((1, BRANCHES), dtype=bool)
    joints, misses = np.array(q[solver.first :]), np.empty(BRANCHES)
    branches = np.arange(BRANCHES, dtype=np.int64)
    as_it_runs(branch_misses)(
        *solver.geometry.for_kernel, branches, pose, joints, found, exists, misses
    )
    return misses
