"""What turning the torch about its own wire would do to the wrist.

A turn about the wire leaves the weld as it is, and is the cheapest cure for an aligned wrist
when the torch is bent. It is worked out for the very stretch of the move, not guessed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pathsim.arm.alignment import wrist_angle, wrist_joints
from pathsim.arm.inverse import branch_of, closed_form
from pathsim.clearance import Span
from pathsim.model import Cell
from pathsim.motion import MoveTrack
from pathsim.transforms import Array, inverse, pose, rotation_about

_LOOKS = 60
_AROUND = 0.15  # s looked at on both sides of a stretch


@dataclass(frozen=True)
class TwistEffect:
    """After a turn of ``angle`` rad: nearest alignment, and the fastest wrist joint's share."""

    angle: float
    alignment: float
    joint: int
    share: float


#: Alignments that differ by less are the same, rad.
_AS_GOOD = 1e-6


def best_twist(cell: Cell, track: MoveTrack, spans: tuple[Span, ...], size: float) -> TwistEffect:
    """Return the better of the turns by ``+size`` and ``-size`` rad.

    The first when both fail, or are as good as each other: rounding must not choose.
    """
    effects = [_effect(cell, track, spans, angle) for angle in (size, -size)]
    possible = [effect for effect in effects if effect is not None]
    if not possible:
        return TwistEffect(size, 0.0, wrist_joints(cell.arm)[0], np.inf)
    best = max(effect.alignment for effect in possible)
    return next(effect for effect in possible if effect.alignment > best - _AS_GOOD)


def _effect(
    cell: Cell, track: MoveTrack, spans: tuple[Span, ...], angle: float
) -> TwistEffect | None:
    """Follow the stretch with the turned torch; None when the arm cannot."""
    arm, solver = cell.arm, closed_form(cell.arm)
    start = max(spans[0].start - _AROUND, float(track.t[0]))
    end = min(spans[-1].end + _AROUND, float(track.t[-1]))
    if solver is None or end - start < 1e-6:
        return None
    times = np.linspace(start, end, _LOOKS)
    q = track.q_at(times)[:, : arm.dof]
    X = cell.torch.T_flange_tcp
    twist = X @ pose(rotation_about([0.0, 0.0, 1.0], angle), np.zeros(3)) @ inverse(X)
    branch = branch_of(solver, q[0])
    found, exists = solver.solve(arm.pose(q) @ twist, q[:, 0], (branch,))
    if not exists.all():
        return None
    turned = _unwound(found[:, 0])
    if not arm.within_limits(_nearest_turns(turned, arm.lower, arm.upper)).all():
        return None
    joints = list(wrist_joints(arm))
    speed = np.abs(np.diff(turned, axis=0)) / np.diff(times)[:, None]
    shares = (speed / arm.speed)[:, joints].max(axis=0)
    worst = int(np.argmax(shares))
    nearest = float(wrist_angle(arm, turned).min())
    return TwistEffect(angle, nearest, joints[worst], float(shares[worst]))


def _unwound(q: Array) -> Array:
    """Joint rows without leaps of whole turns."""
    return np.unwrap(q, axis=0)


def _nearest_turns(q: Array, lower: Array, upper: Array) -> Array:
    """Shift each joint by whole turns so that its middle comes nearest to its range's middle."""
    bounded = np.isfinite(lower) & np.isfinite(upper)
    middle = np.where(bounded, (np.where(bounded, lower, 0) + np.where(bounded, upper, 0)) / 2, 0)
    turns = np.round((middle - q.mean(axis=0)) / (2 * np.pi))
    return np.asarray(q + 2 * np.pi * turns)
