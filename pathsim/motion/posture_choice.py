"""Which joint values are taken for a pose, and what else would fit it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from pathsim.arm import Arm
from pathsim.arm.inverse import (
    at_all_turns,
    at_nearest_turns,
    closed_form,
    nearest_first,
    unlimited_joints,
)
from pathsim.arm.postures import Posture, has_postures, measures, postures_of
from pathsim.motion.notes import Pick
from pathsim.transforms import Array, BoolArray

#: A joint stands "about" where it is said to when it is within a quarter of a turn of it.
ABOUT = np.pi / 2
#: Joints 4 and 6 nearer to one line than this share their turn freely, rad.
_IN_LINE = 1e-6
_TURN = 2 * np.pi

#: Rough values of joints: (index, value as the display shows it, rad).
About = tuple[tuple[int, float], ...]


class Wanted(NamedTuple):
    """A pose of the flange, and what a point says of the joints there.

    ``T_base_flange (4, 4)``; ``held``: the held joint's value; ``posture``: in words.
    """

    T_base_flange: Array
    held: float | None
    posture: Posture
    about: About


def pick(arm: Arm, T_flange_tcp: Array, wanted: Wanted, near: Array) -> Pick | None:
    """Return the joint values that meet all that is wanted and are least away from ``near (dof,)``.

    Of those within limits; None when there are none.
    """
    found = arm.inverse(
        wanted.T_base_flange, held=wanted.held, T_flange_tcp=T_flange_tcp, near=near
    )
    found = _in_line_as_wanted(arm, found, wanted.about, near)
    found = at_nearest_turns(arm, found, near)
    found = _at_turns_about(arm, found, wanted.about)
    found = found[are_about(arm, found, wanted.about).all(axis=1)]
    found = found[_stand_so(arm, found, wanted.posture)]
    if len(found) == 0:
        return None
    return _picked(arm, nearest_first(arm, found, near), wanted.about)


def are_about(arm: Arm, q: Array, about: About) -> BoolArray:
    """Tell for joints ``q (n, dof)`` which rough values they keep to, ``(n, k)``."""
    if not about:
        return np.ones((len(q), 0), dtype=bool)
    joints, values = zip(*about, strict=True)
    shown = arm.readings.shown(q)[:, list(joints)]
    return np.asarray(np.abs(shown - np.array(values)) <= ABOUT)


def _in_line(arm: Arm, found: Array) -> BoolArray:
    """Tell where joints 4 and 6 line up, ``(k,)``; nowhere without a spherical wrist."""
    if closed_form(arm) is None or len(found) == 0:
        return np.zeros(len(found), dtype=bool)
    return np.asarray(np.abs(measures(arm, found).wrist) < _IN_LINE)


def _stand_so(arm: Arm, found: Array, posture: Posture) -> BoolArray:
    """Tell which of ``found (k, dof)`` stand as asked; joint 5 in line is turned neither way."""
    if not posture or not has_postures(arm) or len(found) == 0:
        return np.ones(len(found), dtype=bool)
    either = Posture(posture.shoulder, posture.elbow)
    asked = [either if in_line else posture for in_line in _in_line(arm, found)]
    stands = postures_of(arm, found)
    return np.array([a.is_met_by(s) for a, s in zip(asked, stands, strict=True)], dtype=bool)


def _in_line_as_wanted(arm: Arm, found: Array, about: About, near: Array) -> Array:
    """Where joints 4 and 6 share their turn freely, put joint 4 where it is said, else as it was.

    The closed form puts it to zero there, which is as good as any other value, and far away.
    """
    in_line = _in_line(arm, found)
    if not in_line.any():
        return found
    fourth, sixth = arm.dof - 3, arm.dof - 1
    kept = found[~in_line]
    again: list[Array] = []
    for row in found[in_line]:
        frames = arm.axis_frames(row)
        same_way = np.sign(frames[fourth, :3, 2] @ frames[sixth, :3, 2])
        goal = float(near[fourth])
        for joint, value in about:
            if joint == fourth:
                per_turn = float(np.linalg.inv(arm.readings.mix)[fourth, fourth]) or 1.0
                goal = float(row[fourth] + (value - arm.readings.shown(row)[fourth]) / per_turn)
        goal = float(np.clip(goal, arm.lower[fourth], arm.upper[fourth]))
        moved = row.copy()
        moved[fourth] = goal
        moved[sixth] -= same_way * (goal - row[fourth])
        moved[sixth] -= _TURN * np.round(moved[sixth] / _TURN)
        if all(np.abs(moved - other).max() > 1e-5 for other in again):
            again.append(moved)
    turned = at_all_turns(arm, np.array(again))
    return np.concatenate([kept, turned])


def _at_turns_about(arm: Arm, found: Array, about: About) -> Array:
    """Put joints without limits to the turn at which the display shows about what was said."""
    moved, unlimited = found.copy(), unlimited_joints(arm)
    for joint, value in about:
        per_turn = float(np.linalg.inv(arm.readings.mix)[joint, joint])
        if unlimited[joint] and per_turn:
            off = value - arm.readings.shown(moved)[:, joint]
            moved[:, joint] += _TURN * np.round(off / (per_turn * _TURN))
    return moved


def _picked(arm: Arm, fits: Array, about: About) -> Pick:
    """Return the first of ``fits (k, dof)``, and how the others differ from it."""
    q, others = fits[0], fits[1:]
    postures = postures_of(arm, fits) if has_postures(arm) else [None] * len(fits)
    alike = [stands == postures[0] for stands in postures[1:]]
    said = {joint for joint, _ in about}
    unlimited = tuple(int(j) for j in np.flatnonzero(unlimited_joints(arm)) if j not in said)
    gap = np.abs(arm.readings.shown(others) - arm.readings.shown(q)) > ABOUT
    gap[:, arm.prismatic] = False
    return Pick(
        tuple(map(float, q)),
        postures[0],
        len(others),
        tuple(sorted({*_telling(gap[np.array(alike, dtype=bool)]), *unlimited})),
        not all(alike),
        unlimited,
        bool(_in_line(arm, fits).any()),
        closed_form(arm) is None,
    )


def _telling(gap: BoolArray) -> tuple[int, ...]:
    """Return few joints of which each row of ``gap (k, dof)`` has one; none where a row has none.

    That joint's rough value would have told the row's solution from the one taken.
    """
    joints: list[int] = []
    left = gap
    while len(left):
        counts = left.sum(axis=0)
        # Of joints that tell as much the last one: it is joint 6 or 4 that is wound up.
        best = int(len(counts) - 1 - np.argmax(counts[::-1]))
        if counts[best] == 0:
            return ()
        joints.append(best)
        left = left[~left[:, best]]
    return tuple(joints)
