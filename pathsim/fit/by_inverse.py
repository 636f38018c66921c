"""Signs, zeros and coupling of all joints at once, from postures that reach the displayed poses.

Where tool and base are right, the displayed pose of a row says by itself which joint values the
arm may have: the few solutions of its inverse. Two rows and one solution of each leave, joint by
joint, a handful of ways to count; the other rows say which of them is true, and which row none of
them fits. So any number of joints may count otherwise, and one slip in a row spoils nothing.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.arm import Arm
from pathsim.arm.inverse import closed_form
from pathsim.arm.numeric_inverse import NumericInverse
from pathsim.fit.description import Description, Reading, Rows, errors
from pathsim.fit.explanations import Explanation, coupled_joint
from pathsim.transforms import Array, inverse

#: Values of one joint nearer than this are one: rounding of a display, through the inverse.
_SAME = np.radians(0.6)
_SAME_SLIDE = 3e-3  # m
#: A zero smaller than this is none; the fit that follows tells.
_NO_ZERO = np.radians(0.3)
#: A row this near may belong to it, before zeros are fitted: m and rad.
_NEAR, _NEAR_TURN = 0.02, np.radians(2.0)
_MOST_ANCHORS, _MOST_WAYS = 6, 64
#: Wrists nearer to alignment say little of joints 4 and 6.
_ALIGNED = np.radians(5.0)


@dataclass(frozen=True, eq=False)
class Way:
    """One way in which the display may count: what differs, zeros to start from, rows that fit.

    ``outside``: indices of rows that it does not fit.
    """

    things: tuple[Explanation, ...]
    x: Array
    outside: tuple[int, ...]


def ways_to_count(
    description: Description, rows: Sequence[Reading], most_outside: int
) -> list[Way]:
    """All ways that fit all rows but ``most_outside``, each once."""
    arm = description.arm
    posed = [k for k, row in enumerate(rows) if row.T_shown_tcp is not None]
    if len(posed) < 3 or arm.dof < 6:
        return []
    shown = np.array([rows[k].shown for k in posed])
    solved = [solutions_of(description, rows[k]) for k in posed]
    anchors = [k for k, q in enumerate(solved) if len(q) and not _is_aligned(arm, q)]
    found: dict[tuple[object, ...], Way] = {}
    stacked = Rows.of([rows[k] for k in posed])
    tried: set[tuple[float, ...]] = set()
    for a, b in itertools.combinations(anchors[:_MOST_ANCHORS], 2):
        for choice in _choices(arm, shown[[a, b]], solved[a], solved[b]):
            key = tuple(np.round(np.concatenate([choice.mix.ravel(), choice.zero]), 1))
            if key in tried:
                continue
            tried.add(key)
            size = errors(description.with_map(choice.mix, choice.zero), stacked)
            near = np.linalg.norm(size[: len(posed), :3], axis=1) < _NEAR
            near &= np.linalg.norm(size[: len(posed), 3:], axis=1) < _NEAR_TURN
            outside = tuple(posed[k] for k in np.flatnonzero(~near))
            if len(outside) <= most_outside:
                things, x = as_things(arm, choice)
                found.setdefault((things, outside), Way(things, x, outside))
    return list(found.values())


@dataclass(frozen=True, eq=False)
class Choice:
    """A way to count: the readings map ``mix (dof, dof)`` and ``zero (dof,)``."""

    mix: Array
    zero: Array


def solutions_of(description: Description, row: Reading) -> Array:
    """Joint vectors ``(k, dof)`` that bring the tool to the displayed pose, limits ignored."""
    arm = description.arm
    assert row.T_shown_tcp is not None  # noqa: S101 - only rows with a pose are asked
    T = inverse(description.T_shown_base) @ row.T_shown_tcp @ inverse(description.T_flange_tcp)
    held = 0.0 if arm.held is None else float(arm.readings.model(row.shown)[arm.held])
    solver = closed_form(arm)
    if solver is None:
        return NumericInverse(arm, description.T_flange_tcp).search(T, held)
    q, exists = solver.solve(T[None], held)
    return np.asarray(q[0][exists[0]])


def _is_aligned(arm: Arm, q: Array) -> bool:
    return closed_form(arm) is not None and bool(np.abs(np.sin(q[:, -2])).max() < np.sin(_ALIGNED))


def _choices(arm: Arm, shown: Array, one: Array, other: Array) -> list[Choice]:
    """Ways to count that bring two rows to two solutions, one of each."""
    readings = arm.readings
    coupled = coupled_joint(arm)
    result = []
    for q_a, q_b in itertools.product(one, other):
        per_joint: list[list[tuple[Array, float]]] = []
        for j in range(arm.dof):
            options = []
            for row in mix_rows(arm, j, coupled):
                zero, again = q_a[j] - row @ shown[0], q_b[j] - row @ shown[1]
                gap = again - zero
                if arm.prismatic[j]:
                    is_same = abs(gap) < _SAME_SLIDE
                else:
                    gap -= 2 * np.pi * np.round(gap / (2 * np.pi))
                    is_same = abs(gap) < _SAME
                if is_same:
                    options.append((row, float(zero)))
            if j == arm.held:
                options = [(readings.mix[j], float(readings.zero[j]))]
            per_joint.append(options)
        if not all(per_joint):
            continue
        for combination in itertools.islice(itertools.product(*per_joint), _MOST_WAYS):
            mix = np.array([row for row, _ in combination])
            if abs(np.linalg.det(mix)) < 1e-9:
                continue
            zero = np.array([value for _, value in combination])
            result.append(Choice(mix, turned_near(arm, zero)))
    return result


def mix_rows(arm: Arm, joint: int, coupled: int | None) -> list[Array]:
    """Rows that the readings map may have for a joint: as it is, signs and coupling changed."""
    now = arm.readings.mix[joint]
    rows = []
    for factor in (0.0, -1.0, 1.0) if joint == coupled else (0.0,):
        for sign in (1.0, -1.0):
            row = np.array(now)
            row[joint] *= sign
            if factor:
                row[joint - 1] += factor
            rows.append(row)
    return rows


def turned_near(arm: Arm, zero: Array) -> Array:
    """Zeros within half a turn of those of the description."""
    gap = zero - arm.readings.zero
    turns = np.where(arm.prismatic, 0.0, 2 * np.pi * np.round(gap / (2 * np.pi)))
    return np.asarray(zero - turns)


def as_things(arm: Arm, choice: Choice) -> tuple[tuple[Explanation, ...], Array]:
    """Explanations that lead from the description's map to a choice, and their zeros."""
    now, things, x = arm.readings, [], []
    coupled = coupled_joint(arm)
    for j in range(arm.dof):
        if choice.mix[j, j] != now.mix[j, j]:
            things.append(Explanation("sign", j))
        if j == coupled and choice.mix[j, j - 1] != now.mix[j, j - 1]:
            things.append(Explanation("coupling", j, choice.mix[j, j - 1] - now.mix[j, j - 1]))
    for j in range(arm.dof):
        gap = float(choice.zero[j] - now.zero[j])
        if abs(gap) > (_SAME_SLIDE if arm.prismatic[j] else _NO_ZERO):
            things.append(Explanation("zero", j))
            x.append(gap)
    return tuple(things), np.array(x)


def without_turns(description: Description, rows: Sequence[Reading], joint: int) -> float:
    """Whole turns to add to a joint's zero, rad, that keep the rows nearest its limits' inside."""
    arm = description.arm
    if arm.prismatic[joint]:
        return 0.0
    q = arm.readings.model(np.array([row.shown for row in rows]))[:, joint]
    low, high = float(arm.lower[joint]), float(arm.upper[joint])

    def past(turns: int) -> tuple[float, int]:
        there = q + 2 * np.pi * turns
        over = np.maximum(there - high, 0.0) + np.maximum(low - there, 0.0)
        return round(float(over.sum()), 6), abs(turns)

    return 2 * np.pi * min((0, -1, 1, -2, 2), key=past)


def rows_past_limits(description: Description, rows: Sequence[Reading]) -> int:
    """Count rows that a description puts past a joint's limit, by more than a degree or mm."""
    arm = description.arm
    q = arm.readings.model(np.array([row.shown for row in rows]))
    return int((~arm.within_limits(q, np.radians(1.0))).any(axis=1).sum())
