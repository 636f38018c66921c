"""Where a straight move, an arc or a seam may go on in another posture than the one it is laid in.

Where the wrist lines up, the wrist's centre comes over axis 1, or upper arm and forearm come into
one line, two postures meet. The arm may keep its posture there, one joint swinging half a turn in
a moment, or go straight through into the other posture. Which of the two a real arm does is not
known from its files. Knots are laid for the first; nothing is said of the second, so what follows
is not guaranteed. Near such a place the laid posture swings, so that knots lie close there, and
the smallest value at a knot is near enough to the smallest of all.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from pathsim.arm import Arm
from pathsim.arm.alignment import characteristic_length
from pathsim.arm.inverse import ClosedForm, closed_form
from pathsim.arm.postures import measures, up_and_ahead
from pathsim.motion.kept_values import Lazy
from pathsim.transforms import Array, BoolArray

#: As near to in line as this an arm may take either way, rad. Ours: it is what a display rounds
#: away and what a real arm's zeros are known to.
IN_LINE = np.radians(0.1)
#: The same for the wrist's centre beside axis 1, m: 0.1 deg at 0.6 m.
OVER_SHOULDER = 1e-3
#: The same for any other arm: the smallest singular value, lengths divided by the arm's own.
#: A wrist 0.1 deg out of line has about this one (``pathsim.findings.singular``: 0.05 at 5 deg).
SINGULAR = 1e-3


class Alignment(StrEnum):
    """What lines up where two postures meet."""

    WRIST = "wrist"
    SHOULDER = "shoulder"
    ELBOW = "elbow"
    JOINTS = "joints"


@dataclass(frozen=True)
class TwoWays:
    """Where two postures meet first on a move: ``after`` s from its start.

    ``measure``: how far it is from lined up there, rad; of the shoulder m, of joints of an arm
    without a spherical wrist a singular value.
    """

    what: Alignment
    after: float
    measure: float


#: Of a move that has no such place.
NOT_TWO: Lazy[TwoWays | None] = Lazy(lambda: None)


def first_two_ways(
    arm: Arm, T_flange_tcp: Array, t: Array, q: Array, breaks_off: bool
) -> TwoWays | None:
    """Return where knots ``t (n,)`` s, ``q (n, dof)`` first come to two postures, None if nowhere.

    ``breaks_off``: the move does not go to its end.
    """
    solver = closed_form(arm)
    if solver is None:
        return _first(((Alignment.JOINTS, *_joints_in_line(arm, T_flange_tcp, q)),), t, breaks_off)
    near = np.flatnonzero(_may_be_near(solver, q[:, solver.first :]))
    if len(near) == 0:
        return None
    found = measures(arm, q[near])
    limits = (
        (Alignment.WRIST, found.wrist, IN_LINE),
        (Alignment.SHOULDER, found.shoulder, OVER_SHOULDER),
        (Alignment.ELBOW, found.elbow, IN_LINE),
    )
    ways = []
    for what, values, limit in limits:
        # Ten times the limit is what the cheap look lets through: farther off is far off.
        size = np.full(len(t), 10 * limit)
        size[near] = np.abs(values)
        there = size <= limit
        # Between two knots of opposite sign it was exactly there.
        crossed = (values[1:] * values[:-1] < 0) & (np.diff(near) == 1)
        there[near[:-1][crossed & (size[near[:-1]] < 10 * limit)]] = True
        ways.append((what, size, there))
    return _first(ways, t, breaks_off)


def _first(
    ways: Iterable[tuple[Alignment, Array, BoolArray]], t: Array, breaks_off: bool
) -> TwoWays | None:
    """Return the earliest place of any kind, with how near it is in that first stretch.

    A move that breaks off does so stretched or in line: that is its end, and no fork.
    """
    best: TwoWays | None = None
    for what, size, there in ways:
        rows = np.flatnonzero(there)
        if len(rows) == 0 or (breaks_off and there[rows[0] :].all()):
            continue
        if best is None or t[rows[0]] < best.after:
            gone = np.flatnonzero(~there[rows[0] :])
            last = rows[0] + (gone[0] if len(gone) else len(there))
            best = TwoWays(what, float(t[rows[0]]), float(size[rows[0] : last].min()))
    return best


class _Waves(NamedTuple):
    """What tells nearness to each alignment from joint values alone, by sines and cosines.

    ``fifth``, ``third``: constant, cosine and sine part, and the size under which it is near.
    ``fore (3, 3)``, ``upper (3,)``, ``to_shoulder``, ``ahead``, ``beside``: of the wrist's centre.
    """

    fifth: tuple[float, float, float]
    third: tuple[float, float, float]
    near_third: float
    fore: tuple[Array, Array, Array]
    upper: Array
    start: float
    ahead: Array
    beside: Array


@lru_cache(maxsize=32)
def _waves(solver: ClosedForm) -> _Waves:
    g = solver.geometry
    h = g.axes

    def turned(axis: Array, v: Array) -> tuple[Array, Array, Array]:
        """Return v turned about an axis as constant, cosine and sine part."""
        along = (axis @ v) * axis
        return along, v - along, np.cross(axis, v)

    fifth = tuple(float(np.cross(h[3], part) @ h[4]) for part in turned(h[4], h[5]))
    fore = turned(h[2], g.forearm)
    third = tuple(float(np.cross(g.upper_arm, part) @ h[1]) for part in fore)
    flat = [v - (v @ h[1]) * h[1] for v in (g.upper_arm, g.forearm)]
    size = float(np.linalg.norm(flat[0]) * np.linalg.norm(flat[1]))
    _, ahead = up_and_ahead(solver)
    return _Waves(
        (fifth[0], fifth[1], fifth[2]), (third[0], third[1], third[2]), size,
        fore, g.upper_arm, float(g.to_shoulder @ ahead), ahead, np.cross(ahead, h[1]),
    )  # fmt: skip


def _may_be_near(solver: ClosedForm, joints: Array) -> BoolArray:
    """Tell which of ``joints (n, 6)`` may be near an alignment; a cheap look, never too few.

    Sines of the angles and the distance that ``measures`` tells exactly; taken ten times as wide,
    so that neighbours on both sides of a place are both told.
    """
    w = _waves(solver)
    c2, s2 = np.cos(joints[:, 1]), np.sin(joints[:, 1])
    c3, s3 = np.cos(joints[:, 2]), np.sin(joints[:, 2])
    fifth = w.fifth[0] + w.fifth[1] * np.cos(joints[:, 4]) + w.fifth[2] * np.sin(joints[:, 4])
    third = w.third[0] + w.third[1] * c3 + w.third[2] * s3
    along, beside = (
        (w.upper + w.fore[0]) @ side + c3 * (w.fore[1] @ side) + s3 * (w.fore[2] @ side)
        for side in (w.ahead, w.beside)
    )
    centre = w.start + c2 * along + s2 * beside
    wide = 10 * np.sin(IN_LINE)
    return np.asarray(
        (np.abs(fifth) <= wide)
        | (np.abs(third) <= wide * w.near_third)
        | (np.abs(centre) <= 10 * OVER_SHOULDER)
    )


def _joints_in_line(arm: Arm, T_flange_tcp: Array, q: Array) -> tuple[Array, BoolArray]:
    """Smallest singular value at knots ``(n, dof)`` of an arm of any build, and where it is small.

    Of the joints that are solved for. With as many of them as a pose has numbers a determinant
    that changes its sign between two knots was zero in between.
    """
    J = arm.jacobian(q)
    J[:, :3] /= characteristic_length(arm)
    if arm.held is not None:
        J = np.delete(J, arm.held, axis=2)
    if J.shape[2] == 5:  # a turn about the wire is not asked for
        z = (arm.pose(q) @ T_flange_tcp)[:, :3, 2]
        J[:, 3:] -= z[:, :, None] * (z[:, None, :] @ J[:, 3:])
    values = np.linalg.svd(J, compute_uv=False)[:, -1]
    there = values <= SINGULAR
    if J.shape[2] == 6:
        det = np.linalg.det(J)
        there[:-1] |= det[1:] * det[:-1] < 0
    return np.asarray(values), np.asarray(there)
