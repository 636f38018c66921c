"""Fitting the numbers of many combinations of explanations at once, by damped least squares.

All combinations of one size go through each step together (Levenberg and Marquardt's method), since
a step is a few hundred small products either way.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pathsim.fit.description import Description, Rows, errors_of
from pathsim.fit.explanations import Explanation
from pathsim.transforms import Array, exp_rotation

Things = tuple[Explanation, ...]
KernelArray = NDArray[np.intp]

_STEPS = 25
_DELTA = 1e-6  # rad or m, for slopes
#: Zeros are tried from each quarter turn, since a fit only finds its way from nearby.
_QUARTERS = (0.0, np.pi / 2, np.pi, -np.pi / 2)
#: So many of the quarter turns, the best, are followed.
_FOLLOWED = 2
_MOST_POSES = 40_000


def fitted_numbers(
    description: Description,
    rows: Rows,
    combinations: Sequence[Things],
    size: float,
    close: float,
    starts: Sequence[Array] | None = None,
) -> list[Array | None]:
    """Numbers of each combination that fit the rows best; None where the rows do not tell them.

    All combinations have the same count of numbers. ``size``: m that weigh as much as 1 rad;
    ``close``: m that count as 1. ``starts``: numbers to start from, else quarter turns.
    """
    if not combinations:
        return []
    count = sum(thing.numbers for thing in combinations[0])
    if count == 0:
        return [np.zeros(0) for _ in combinations]
    found: list[Array | None] = []
    width = max(1, _MOST_POSES // (len(rows.shown) * max(_FOLLOWED * (count + 1), 4**2)))
    for first in range(0, len(combinations), width):
        part = combinations[first : first + width]
        given = None if starts is None else starts[first : first + width]
        found += _fit_part(_Problem.of(description, rows, part, size, close), given)
    return found


@dataclass(frozen=True, eq=False)
class _Problem:
    """``c`` combinations with ``p`` numbers each, as matrices from numbers to what they change.

    ``mix (c, dof, dof)``; ``zero (c, dof, p)``, ``tool`` and ``base (c, 6, p)``.
    """

    description: Description
    rows: Rows
    mix: Array
    zero: Array
    tool: Array
    base: Array
    turning: tuple[tuple[int, ...], ...]
    size: float
    close: float

    @classmethod
    def of(
        cls, description: Description, rows: Rows, combinations: Sequence[Things], size: float,
        close: float,
    ) -> _Problem:  # fmt: skip
        count = sum(thing.numbers for thing in combinations[0])
        readings = description.arm.readings
        dof, c = description.arm.dof, len(combinations)
        mix = np.tile(readings.mix, (c, 1, 1))
        zero, tool, base = (np.zeros((c, k, count)) for k in (dof, 6, 6))
        turning = []
        for k, things in enumerate(combinations):
            place, quarters = 0, []
            changed = description
            for thing in things:
                if thing.kind in ("sign", "coupling"):
                    changed = thing.applied(changed, np.zeros(0))
                elif thing.kind == "zero":
                    zero[k, thing.joint, place] = 1.0
                    if not description.arm.prismatic[thing.joint]:
                        quarters.append(place)
                else:
                    target = tool if thing.kind.startswith("tool") else base
                    target[k, : thing.numbers, place : place + thing.numbers] = np.eye(
                        thing.numbers
                    )
                place += thing.numbers
            mix[k] = changed.arm.readings.mix
            turning.append(tuple(quarters))
        return cls(description, rows, mix, zero, tool, base, tuple(turning), size, close)

    def taken(self, which: KernelArray) -> _Problem:
        """Return the problem of some combinations, in a new order, some perhaps twice."""
        return _Problem(
            self.description, self.rows, self.mix[which], self.zero[which], self.tool[which],
            self.base[which], tuple(self.turning[k] for k in which), self.size, self.close,
        )  # fmt: skip

    def off(self, x: Array) -> Array:
        """Errors ``(c, k, m)`` at numbers ``x (c, k, p)``; 1 is as much as is let pass."""
        d = self.description
        shift = np.einsum("cjp,ckp->ckj", self.zero, x) + d.arm.readings.zero
        q = np.einsum("nj,cij->cni", self.rows.shown, self.mix)[:, None] + shift[:, :, None]
        T = d.arm.pose(q)
        if self.tool.any():
            moved = np.einsum("cjp,ckp->ckj", self.tool, x)
            tool = np.broadcast_to(d.T_flange_tcp, (*moved.shape[:2], 4, 4)).copy()
            tool[..., :3, 3] += moved[..., :3]
            tool[..., :3, :3] = tool[..., :3, :3] @ exp_rotation(moved[..., 3:])
            T = T @ tool[:, :, None]
        else:
            T = T @ d.T_flange_tcp
        if self.base.any():
            moved = np.einsum("cjp,ckp->ckj", self.base, x)
            base = np.broadcast_to(d.T_shown_base, (*moved.shape[:2], 4, 4)).copy()
            base[..., :3, 3] += moved[..., :3]
            base[..., :3, :3] = exp_rotation(moved[..., 3:]) @ base[..., :3, :3]
            T = base[:, :, None] @ T
        else:
            T = d.T_shown_base @ T
        found = errors_of(T, self.rows)
        found[..., 3:] *= self.size
        return np.asarray(found.reshape(*found.shape[:2], -1) / self.close)


def _fit_part(problem: _Problem, starts: Sequence[Array] | None) -> list[Array | None]:
    count = problem.zero.shape[2]
    c = len(problem.mix)
    x, owner = _best_quarters(problem)
    if starts is not None:
        x, owner = np.array(starts, float).reshape(c, count), np.arange(c, dtype=np.intp)
    many = problem.taken(owner)
    x, cost, slopes = _descend(many, x)
    found: list[Array | None] = []
    for k in range(c):
        mine = np.flatnonzero(owner == k)
        best = mine[np.argmin(cost[mine])]
        found.append(x[best] if _determined(slopes[best]) else None)
    return found


def _best_quarters(problem: _Problem) -> tuple[Array, KernelArray]:
    """Numbers to start from ``(s, p)`` and whose they are ``(s,)``: the best quarter turns."""
    count = problem.zero.shape[2]
    starts: list[Array] = []
    owner: list[int] = []
    for k, places in enumerate(problem.turning):
        grid = np.zeros((4 ** len(places), count))
        turns = np.array(list(itertools.product(_QUARTERS, repeat=len(places))))
        grid[:, list(places)] = turns.reshape(len(grid), -1)
        if len(grid) > 1:
            cost = (problem.taken(np.array([k])).off(grid[None])[0] ** 2).sum(axis=-1)
            grid = grid[np.argsort(cost, kind="stable")[:_FOLLOWED]]
        starts += list(grid)
        owner += [k] * len(grid)
    return np.array(starts), np.array(owner, dtype=np.intp)


def _descend(problem: _Problem, x: Array) -> tuple[Array, Array, Array]:
    """Numbers ``(c, p)`` of least cost from ``x``, cost ``(c,)`` and slopes ``(c, m, p)`` there."""
    c, p = x.shape
    damping = np.full(c, 1e-3)
    off = problem.off(x[:, None])[:, 0]
    cost = (off**2).sum(axis=1)
    slopes = _slopes(problem, x, off)
    live = np.ones(c, dtype=bool)
    for _ in range(_STEPS):
        which = np.flatnonzero(live)
        if len(which) == 0:
            break
        J, r = slopes[which], off[which]
        normal = np.swapaxes(J, 1, 2) @ J
        weight = np.einsum("cpp->cp", normal) + 1e-9
        ridge = np.eye(p) * (damping[which, None] * weight)[:, None, :]
        step = np.linalg.solve(normal + ridge, -(np.swapaxes(J, 1, 2) @ r[..., None]))[..., 0]
        part = problem.taken(which)
        there = x[which] + step
        off_there = part.off(there[:, None])[:, 0]
        cost_there = (off_there**2).sum(axis=1)
        better = cost_there < cost[which]
        gained = np.where(better, 1 - cost_there / np.maximum(cost[which], 1e-300), 0.0)
        damping[which] = np.where(better, damping[which] / 5, damping[which] * 8)
        won = which[better]
        x[won], off[won], cost[won] = there[better], off_there[better], cost_there[better]
        if len(won):
            slopes[won] = _slopes(problem.taken(won), x[won], off[won])
        small = np.abs(step).max(axis=1) < 1e-9
        live[which] = ~((better & (gained < 1e-6)) | small | (damping[which] > 1e6))
    return x, cost, slopes


def _slopes(problem: _Problem, x: Array, off: Array) -> Array:
    p = x.shape[1]
    tries = x[:, None] + _DELTA * np.eye(p)
    return np.asarray(np.swapaxes((problem.off(tries) - off[:, None]) / _DELTA, 1, 2))


def _determined(slopes: Array) -> bool:
    """Tell whether every number shows: a move of 10 mm or 0.01 rad must be more than close."""
    smallest = float(np.linalg.svd(slopes, compute_uv=False)[-1])
    return len(slopes) >= slopes.shape[1] and smallest * 0.01 > 1.0
