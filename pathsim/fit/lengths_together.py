"""Lengths that are wrong together with a display that counts otherwise, or two lengths at once.

The turns of displayed poses tell how the display counts, whatever the lengths are
(``by_turns``). Places then are linear in the lengths: which one or two of them, with the zeros,
leave nothing over.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pathsim.arm import Arm
from pathsim.fit.by_inverse import Choice, as_things, rows_past_limits, turned_near
from pathsim.fit.by_turns import ways_by_turns
from pathsim.fit.description import Description, Reading, Residual, Rows, errors_of, residuals
from pathsim.fit.explanations import Explanation
from pathsim.fit.lengths import Length, is_a_shift, with_length
from pathsim.fit.proof import LEAST_ROWS
from pathsim.fit.trials import CLOSE, CLOSE_TURN, worst
from pathsim.transforms import Array

_STEPS, _DELTA = 8, 1e-6
#: A length that changes by less is not wrong.
_WRONG = 2 * CLOSE
#: So many lengths at once are looked for, each for so many rows more than prove one explanation.
_MOST_LENGTHS = 2


@dataclass(frozen=True)
class WrongLength:
    """A length that would have to be ``would_be`` m; the description says ``came``."""

    name: str
    came: float
    would_be: float


@dataclass(frozen=True)
class Together:
    """Lengths and ways to count that explain the rows together, and what is ``left``.

    ``counting``: each way in which the display counts otherwise, in words. ``is_a_shift``: a
    tool or frame of poses that is shifted would look the same as the length.
    """

    lengths: tuple[WrongLength, ...]
    counting: tuple[str, ...]
    left: tuple[Residual, ...]
    is_a_shift: bool

    @property
    def price(self) -> int:
        """Return what it costs to believe: 1 for each thing."""
        return len(self.lengths) + len(self.counting)


def lengths_together(
    description: Description, rows: Sequence[Reading], lengths: Sequence[Length]
) -> tuple[Together, ...]:
    """Return the cheapest explanations with one or two wrong lengths; empty where none explains.

    One length alone is not among them: ``length_slips`` tells that. More than one answer: these
    rows do not decide.
    """
    posed = [row for row in rows if row.T_shown_tcp is not None]
    if len(posed) < LEAST_ROWS or len(posed) < len(rows) or not lengths:
        return ()
    stacked = Rows.of(rows)
    longer = {one.name: with_length(description, one, 1.0).arm for one in lengths}

    def fit_of(way: Choice, joints: tuple[int, ...], few: tuple[Length, ...]) -> _Fit:
        arms = tuple(longer[one.name] for one in few)
        return _Fit(description, stacked, way, joints, few, arms)

    possible = []
    for way in ways_by_turns(description, rows):
        fit = fit_of(way, _turning(description), tuple(lengths))
        zero, more = fit.solved()
        counted = Choice(way.mix, turned_near(description.arm, zero))
        # With all lengths free at once nothing may be left, or no few of them explain the rows.
        if _is_close(residuals(fit.description_at(zero, more), rows)):
            possible.append(counted)
    for count in range(1, _MOST_LENGTHS + 1):
        if len(rows) < LEAST_ROWS + count - 1:
            break
        found = [
            one
            for way in possible
            for few in itertools.combinations(lengths, count)
            if (one := _explained(description, rows, fit_of, way, few)) is not None
        ]
        if found:
            least = min(one.price for one in found)
            once = {(one.counting, tuple(w.name for w in one.lengths)): one for one in found
                    if one.price == least}  # fmt: skip
            return tuple(sorted(once.values(), key=lambda one: sum(r.distance for r in one.left)))
    return ()


def _explained(
    description: Description,
    rows: Sequence[Reading],
    fit_of: Callable[[Choice, tuple[int, ...], tuple[Length, ...]], _Fit],
    way: Choice,
    lengths: tuple[Length, ...],
) -> Together | None:
    """Return the explanation by a way to count and some lengths; None where something is left."""
    every = fit_of(way, _turning(description), lengths)
    zero, more = every.solved()
    if not _is_close(residuals(every.description_at(zero, more), rows)):
        return None
    arm = description.arm
    way = Choice(way.mix, turned_near(arm, zero))
    things, _ = as_things(arm, way)
    # Zeros that hardly changed are those of the description.
    free = tuple(t.joint for t in things if t.kind == "zero")
    kept = np.where(np.isin(np.arange(arm.dof), free), way.zero, arm.readings.zero)
    few = fit_of(Choice(way.mix, kept), free, lengths)
    zero, more = few.solved()
    after = few.description_at(zero, more)
    left = residuals(after, rows)
    values = [float(length.value + amount) for length, amount in zip(lengths, more, strict=True)]
    if (
        not _is_close(left)
        or min(values) < 0
        or np.abs(more).min() < _WRONG
        or (len(lengths) == 1 and not things)
        or rows_past_limits(after, rows)
        or not few.is_told(zero, more)
    ):
        return None
    x = {j: np.array([zero[j] - arm.readings.zero[j]]) for j in free}
    words = tuple(_words(thing, after, x) for thing in things)
    wrong = tuple(WrongLength(length.name, length.value, value)
                  for length, value in zip(lengths, values, strict=True))  # fmt: skip
    shift = any(is_a_shift(after, rows, length) for length in lengths)
    return Together(wrong, words, left, shift)


def _words(thing: Explanation, after: Description, x: dict[int, Array]) -> str:
    return thing.words(after.arm, x.get(thing.joint, np.zeros(0)))


def _turning(description: Description) -> tuple[int, ...]:
    """Joints whose zeros the rows may tell."""
    arm = description.arm
    return tuple(j for j in range(arm.dof) if not arm.prismatic[j] and j != arm.held)


def _is_close(left: Sequence[Residual]) -> bool:
    distance, turn = worst(left)
    return distance <= CLOSE and turn <= CLOSE_TURN


@dataclass(frozen=True, eq=False)
class _Fit:
    """Zeros of some joints and some lengths, to be fitted to rows.

    ``longer``: the description's arm with each length longer by 1 m; a place is linear in a length.
    """

    description: Description
    rows: Rows
    way: Choice
    joints: tuple[int, ...]
    lengths: tuple[Length, ...]
    longer: tuple[Arm, ...]

    def description_at(self, zero: Array, more: Array) -> Description:
        """Return the description with zeros ``(dof,)`` and lengths that are ``more (l,)`` m."""
        found = self.description.with_map(self.way.mix, zero)
        for length, amount in zip(self.lengths, more, strict=True):
            found = with_length(found, length, float(amount))
        return found

    def _off(self, x: Array) -> tuple[Array, Array]:
        """Errors ``(m,)`` at numbers ``x (p,)``, and their slopes ``(m, p)``."""
        d, count = self.description, len(self.joints)
        zero = np.tile(self.way.zero, (count + 1, 1))
        zero[:, list(self.joints)] += x[:count] + _DELTA * np.eye(count + 1, count, -1)
        q = self.rows.shown @ self.way.mix.T + zero[:, None]
        T = np.array(d.T_shown_base @ d.arm.pose(q) @ d.T_flange_tcp)
        ways = [(d.T_shown_base @ arm.pose(q) @ d.T_flange_tcp - T)[..., :3, 3]
                for arm in self.longer]  # fmt: skip
        for way, amount in zip(ways, x[count:], strict=True):
            T[..., :3, 3] += amount * way
        longer = np.repeat(T[:1], len(ways), axis=0)
        for one, way in zip(longer, ways, strict=True):
            one[:, :3, 3] += _DELTA * way[0]
        size = errors_of(np.concatenate([T, longer]), self.rows)
        size[..., 3:] *= CLOSE / CLOSE_TURN
        flat = size.reshape(len(size), -1)
        return flat[0], (flat[1:] - flat[0]).T / _DELTA

    def solved(self) -> tuple[Array, Array]:
        """Zeros ``(dof,)`` and changes of the lengths ``(l,)`` m that fit best."""
        x = np.zeros(len(self.joints) + len(self.lengths))
        off, slopes = self._off(x)
        for _ in range(_STEPS):
            step = np.linalg.lstsq(slopes, -off, rcond=1e-6)[0]
            x = x + np.clip(step, -0.8, 0.8)
            before = float(off @ off)
            off, slopes = self._off(x)
            if abs(before - float(off @ off)) < 1e-12:
                break
        return self._numbers(x)

    def _numbers(self, x: Array) -> tuple[Array, Array]:
        zero = np.array(self.way.zero)
        zero[list(self.joints)] += x[: len(self.joints)]
        return zero, x[len(self.joints) :]

    def is_told(self, zero: Array, more: Array) -> bool:
        """Tell whether every number shows: 10 mm or 0.01 rad must be more than is let pass."""
        there = replace(self, way=Choice(self.way.mix, zero))
        _, slopes = there._off(np.concatenate([np.zeros(len(self.joints)), more]))
        return bool(np.linalg.svd(slopes, compute_uv=False)[-1] * 0.01 > CLOSE)
