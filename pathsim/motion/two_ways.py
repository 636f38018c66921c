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

import numpy as np

from pathsim.arm import Arm
from pathsim.arm.alignment import characteristic_length
from pathsim.arm.inverse import ClosedForm, closed_form
from pathsim.arm.postures import measures, up_and_ahead
from pathsim.kernels.arrays import as_asked
from pathsim.kernels.plain import as_it_runs
from pathsim.motion import two_ways_kernel as kernels
from pathsim.motion.kept_values import Lazy
from pathsim.transforms import Array, BoolArray, IntArray

#: As near to in line as this an arm may take either way, rad. Ours: it is what a display rounds
#: away and what a real arm's zeros are known to.
IN_LINE = np.radians(0.1)
#: The same for the wrist's centre beside axis 1, m: 0.1 deg at 0.6 m.
OVER_SHOULDER = 1e-3
#: The same for any other arm: the smallest singular value, lengths divided by the arm's own.
#: A wrist 0.1 deg out of line has about this one (``pathsim.findings.singular``: 0.05 at 5 deg).
SINGULAR = 1e-3
#: The sine that a cheap look takes for near; and no knots.
_WIDE, _NONE = float(10 * np.sin(IN_LINE)), np.zeros(0, np.int64)


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
    near = _may_be_near(solver, q)
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


@lru_cache(maxsize=32)
def _numbers(solver: ClosedForm) -> Array:
    """Return what tells nearness to each alignment from joint values alone, for the kernel."""
    g = solver.geometry
    h = g.axes

    def turned(axis: Array, v: Array) -> tuple[Array, Array, Array]:
        """Return v turned about an axis as constant, cosine and sine part."""
        along = (axis @ v) * axis
        return along, v - along, np.cross(axis, v)

    fore = turned(h[2], g.forearm)
    flat = [v - (v @ h[1]) * h[1] for v in (g.upper_arm, g.forearm)]
    _, ahead = up_and_ahead(solver)
    beside = np.cross(ahead, h[1])
    found = np.empty(kernels.NUMBERS)
    for k in range(3):
        found[kernels.FIFTH + k] = np.cross(h[3], turned(h[4], h[5])[k]) @ h[4]
        found[kernels.THIRD + k] = np.cross(g.upper_arm, fore[k]) @ h[1]
        of_centre = fore[k] + g.upper_arm if k == 0 else fore[k]
        found[kernels.ALONG + k], found[kernels.BESIDE + k] = of_centre @ ahead, of_centre @ beside
    found[kernels.THIRD_SIZE] = np.linalg.norm(flat[0]) * np.linalg.norm(flat[1])
    found[kernels.START] = g.to_shoulder @ ahead
    return found


def _may_be_near(solver: ClosedForm, q: Array) -> IntArray:
    """Return which of ``q (n, axes)`` may be near an alignment; a cheap look, never too few.

    Sines of the angles and the distance that ``measures`` tells exactly; taken ten times as wide,
    so that neighbours on both sides of a place are both told.
    """
    near = np.empty(len(q), dtype=bool)
    count = as_it_runs(kernels.mark_near)(
        _numbers(solver), as_asked(q, float), solver.first, _WIDE, 10 * OVER_SHOULDER, near
    )
    return np.flatnonzero(near) if count else _NONE


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
