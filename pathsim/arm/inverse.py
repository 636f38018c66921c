"""Inverse kinematics: all solutions of one pose, and following a path on one branch."""

from __future__ import annotations

import itertools
from functools import lru_cache
from typing import Protocol

import numpy as np

from pathsim.arm.chain import Arm
from pathsim.arm.numeric_inverse import newton, search
from pathsim.arm.wrist_inverse import BRANCHES, WristGeometry, wrist_geometry, wrist_solutions
from pathsim.transforms import Array, Flags

_TURN = 2 * np.pi


@lru_cache(maxsize=32)
def geometry_of(arm: Arm) -> WristGeometry | None:
    """Return the closed-form geometry of an arm, None when it has none."""
    return wrist_geometry(arm.fixed, arm.ends)


def solutions(arm: Arm, T: Array) -> Array:
    """All joint vectors ``(k, dof)`` within limits at ``T_base_flange (4, 4)``."""
    geometry = geometry_of(arm)
    if geometry is None:
        found = search(arm.fixed, arm.ends[-1], T, arm.lower, arm.upper)
    else:
        q, exists = wrist_solutions(geometry, T[None])
        found = _distinct(q[0][exists[0]])
    turned = [list(_turns(arm, row)) for row in found]
    return np.array(list(itertools.chain.from_iterable(turned))).reshape(-1, arm.dof)


def _distinct(found: Array) -> Array:
    """Drop solutions that are the same posture (branches meet at a singularity)."""
    kept: list[Array] = []
    for row in found:
        if all(np.abs(np.exp(1j * row) - np.exp(1j * other)).max() > 1e-9 for other in kept):
            kept.append(row)
    return np.array(kept).reshape(-1, found.shape[-1])


def _turns(arm: Arm, row: Array) -> itertools.product[tuple[float, ...]]:
    """Every combination of whole turns that keeps each joint within its limits."""
    choices = []
    for value, low, high in zip(row, arm.lower, arm.upper, strict=True):
        if not (np.isfinite(low) and np.isfinite(high)):
            inside = low - 1e-9 <= value <= high + 1e-9
            choices.append([float(value)] if inside else [])
            continue
        first = int(np.ceil((low - 1e-9 - value) / _TURN))
        last = int(np.floor((high + 1e-9 - value) / _TURN))
        choices.append([float(value + k * _TURN) for k in range(first, last + 1)])
    return itertools.product(*choices)


class Follower(Protocol):
    """Solves poses along a path without leaving the branch it was made for."""

    def __call__(self, T: Array, near: Array) -> tuple[Array, Flags]:
        """Joints ``(n, dof)`` for ``T_base_flange (n, 4, 4)`` nearest ``near (n, dof)``.

        The second value ``(n,)`` tells which poses could be solved.
        """
        ...


def follower(arm: Arm, q_start: Array, q_end: Array | None = None) -> Follower:
    """Return a follower on the branch of ``q_start (dof,)``.

    ``q_end`` decides where the start lies on a singularity and belongs to two branches.
    """
    geometry = geometry_of(arm)
    if geometry is None:

        def by_newton(T: Array, near: Array) -> tuple[Array, Flags]:
            return newton(arm.fixed, arm.ends[-1], T, near, steps=20)

        return by_newton

    branch = branch_of(arm, geometry, q_start, q_end)

    def by_branch(T: Array, near: Array) -> tuple[Array, Flags]:
        q, exists = wrist_solutions(geometry, T)
        chosen = q[:, branch]
        return chosen + _TURN * np.round((near - chosen) / _TURN), exists[:, branch]

    return by_branch


def branch_of(arm: Arm, geometry: WristGeometry, q: Array, q_next: Array | None = None) -> int:
    """Return the branch 0..7 whose solution at ``pose(q)`` is ``q`` itself."""
    miss = _branch_misses(arm, geometry, q)
    best = int(np.argmin(miss))
    if q_next is not None:
        close = np.flatnonzero(miss < miss[best] + 1e-6)
        if len(close) > 1:
            later = _branch_misses(arm, geometry, q_next)
            best = int(close[np.argmin(later[close])])
    return best


def _branch_misses(arm: Arm, geometry: WristGeometry, q: Array) -> Array:
    """How far each branch's solution is from ``q`` ``(8,)``; only the sum counts when aligned."""
    found, exists = wrist_solutions(geometry, arm.pose(q)[None])
    gap = found[0] - q
    gap = np.abs(gap - _TURN * np.round(gap / _TURN))
    # Joints 4 and 6 trade turns freely near alignment: judge the wrist by joint 5 there.
    aligned = np.abs(np.sin(found[0][:, 4])) < 1e-6
    gap[aligned, 3] = gap[aligned, 5] = 0.0
    miss = gap.max(axis=-1)
    return np.where(exists[0], miss, np.inf) if exists.any() else np.zeros(BRANCHES)
