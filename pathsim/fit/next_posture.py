"""Which posture to note next, so that readings can tell one explanation from another.

Readings cannot tell ways to count apart that show the same in all of them: a joint that never moved
may count the other way round. The next posture is the one in which what is still possible
would show poses that are farthest apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pathsim.fit.description import Description, Reading
from pathsim.fit.proof import LEAST_ROWS
from pathsim.fit.search import Verdict
from pathsim.fit.trials import CLOSE, CLOSE_TURN
from pathsim.transforms import Array, inverse, rotation_angle

#: So many postures are looked at; the same ones each time.
_LOOKS, _SEED = 400, 7
#: Poses that differ by so many times what is let pass are told apart.
_CLEARLY = 3.0
#: Joints without limits are asked for within this, and sliding ones, rad and m.
_WIDEST, _SLIDE = np.radians(150.0), 1.0
#: Readings are asked for in whole degrees and whole centimetres, rad and m.
_STEP, _STEP_SLIDE = np.radians(1.0), 0.01
#: A turn of 1 rad tells as much as this way, m.
_ARM = 0.3


@dataclass(frozen=True, eq=False)
class NextPosture:
    """A posture that is worth noting: ``shown (dof,)`` as displayed, rad or m.

    ``tells``: in words, what it tells that the rows so far do not; empty where it is only one more.
    """

    shown: Array
    tells: tuple[str, ...]


def next_posture(
    description: Description,
    rows: Sequence[Reading],
    verdict: Verdict | None,
    is_free: Callable[[Array], bool],
) -> NextPosture | None:
    """Return the posture to note next; None where the rows decide, or no posture would.

    ``is_free(q)``: whether the arm may stand at model joints ``q (dof,)``; asked for the best ones.
    """
    best, others = _possible(description, rows, verdict)
    seen = np.array([row.shown for row in rows]).reshape(-1, description.arm.dof)
    open_ones = [(words, one) for words, one in others if not _is_told(best, one, seen)]
    if not open_ones and len(rows) >= LEAST_ROWS:
        return None
    possible = [description, best, *(one for _, one in open_ones)]
    shown = _candidates(best, possible)
    apart = np.array([_apart(best, one, shown) for _, one in open_ones]).reshape(-1, len(shown))
    # What hardly differs anywhere is no reason to choose a posture that tells nothing else.
    told = np.minimum(apart, 0.5).sum(axis=0) if len(apart) else np.zeros(len(shown))
    ranges = np.maximum(np.ptp(shown, axis=0), 1e-9)
    away = np.ones(len(shown))
    if len(rows):
        noted = np.array([row.shown for row in rows])
        away = np.abs((shown[:, None] - noted) / ranges).mean(axis=2).min(axis=1)
    for k in np.argsort(-(told + 0.2 * away), kind="stable").tolist():
        # Nobody knows yet which of them the arm is: it has to be clear for all.
        if all(is_free(one.arm.readings.model(shown[k])) for one in possible):
            tells = [words for (words, _), way in zip(open_ones, apart[:, k], strict=True)
                     if way > _CLEARLY * CLOSE]  # fmt: skip
            return NextPosture(shown[k], tuple(dict.fromkeys(tells)))
    return None


def _possible(
    description: Description, rows: Sequence[Reading], verdict: Verdict | None
) -> tuple[Description, list[tuple[str, Description]]]:
    """Return what is taken for right, and in words what else might be."""
    explained = () if verdict is None else verdict.explained
    if len(explained) > 1:
        best, *others = explained
        return best.description, [
            (f"whether {' and '.join(o.words)}", o.description) for o in others
        ]
    best_one = explained[0].description if explained else description
    return best_one, list(_counted_otherwise(best_one, rows))


def _counted_otherwise(
    best: Description, rows: Sequence[Reading]
) -> Iterator[tuple[str, Description]]:
    """Give the ways to count that agree with ``best`` where a joint stood in the middle of all."""
    arm, readings = best.arm, best.arm.readings
    middle = (
        np.mean([row.shown for row in rows], axis=0) if len(rows) else readings.shown(_zero(best))
    )
    for joint in range(arm.dof):
        mix, zero = readings.mix.copy(), readings.zero.copy()
        # The joint's own reading the other way round; its model value stays in the middle.
        zero[joint] += 2 * mix[joint, joint] * middle[joint]
        mix[joint, joint] = -mix[joint, joint]
        yield f"whether {arm.joint_name(joint)} counts the other way", best.with_map(mix, zero)
    first = 1 if arm.has_rail else 0
    if arm.dof - first >= 3:
        a, b = first + 1, first + 2
        mix, zero = readings.mix.copy(), readings.zero.copy()
        change = 1.0 if mix[b, a] == 0 else -mix[b, a]
        mix[b, a] += change
        zero[b] -= change * middle[a]
        words = f"whether {arm.joint_name(b)} is coupled to {arm.joint_name(a)}"
        yield words, best.with_map(mix, zero)


def _zero(best: Description) -> Array:
    """Model joints in the middle of their limits ``(dof,)``."""
    low, high = _limits(best)
    return np.asarray((low + high) / 2)


def _limits(best: Description) -> tuple[Array, Array]:
    arm = best.arm
    widest = np.where(arm.prismatic, _SLIDE, _WIDEST)
    return np.maximum(arm.lower, -widest), np.minimum(arm.upper, widest)


def _candidates(best: Description, possible: Sequence[Description]) -> Array:
    """Postures ``(n, dof)`` as displayed, in round numbers, within limits of all that is possible.

    The limits may be those of the display or of the model: a posture keeps both.
    """
    low, high = _limits(best)
    inside = 0.1 * (high - low)
    rng = np.random.default_rng(_SEED)
    q = rng.uniform(low + inside, high - inside, (_LOOKS, len(low)))
    step = np.where(best.arm.prismatic, _STEP_SLIDE, _STEP)
    shown = np.round(best.arm.readings.shown(q) / step) * step
    within = np.ones(len(shown), dtype=bool)
    for one in possible:
        within &= np.all(one.arm.room(one.arm.readings.model(shown)) > 0, axis=1)
    return np.asarray(shown[within])


def _apart(one: Description, other: Description, shown: Array) -> Array:
    """How differently two descriptions would show postures ``(n, dof)``: ``(n,)`` m."""
    a, b = one.poses(shown), other.poses(shown)
    turn = rotation_angle(inverse(a)[:, :3, :3] @ b[:, :3, :3])
    return np.asarray(np.linalg.norm(a[:, :3, 3] - b[:, :3, 3], axis=1) + _ARM * turn)


def _is_told(one: Description, other: Description, seen: Array) -> bool:
    """Tell whether readings in these postures ``(n, dof)`` tell two descriptions apart."""
    if not len(seen):
        return False
    a, b = one.poses(seen), other.poses(seen)
    off = np.linalg.norm(a[:, :3, 3] - b[:, :3, 3], axis=1).max()
    turn = np.max(rotation_angle(inverse(a)[:, :3, :3] @ b[:, :3, :3]))
    return bool(off > _CLEARLY * CLOSE or turn > _CLEARLY * CLOSE_TURN)
