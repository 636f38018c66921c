"""How far from axis 1 an arm can bring its wrist, its flange and the tip; joint limits ignored.

With a spherical wrist behind two parallel axes it is a closed form. Seen along axis 2 the centre
of the wrist is at most upper arm plus forearm away from that axis, both taken square to it, and
how far it stands aside along the axis never changes. Where joint 5 is square to joints 4 and
6 the hand can point any way, so that flange and tip add their distance from the centre.

Other arms are searched from many postures. What a search finds can be reached; that nothing
reaches farther is not proved by it, so the sum of all lengths is given too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pathsim.arm.chain import Arm
from pathsim.arm.forward import axis_frames
from pathsim.arm.inverse import ClosedForm, closed_form
from pathsim.transforms import Array

_STARTS, _STEPS = 16, 200


@dataclass(frozen=True)
class Reach:
    """Largest distances from axis 1 (behind a rail: of the arm on it), m.

    ``wrist``: the point where axes 4, 5 and 6 meet, None where there is none. ``is_exact``: by
    closed form; else found by search, and nothing is farther away than ``most``, of the tip.
    """

    wrist: float | None
    flange: float
    tip: float
    is_exact: bool
    most: float


def reach(arm: Arm, T_flange_tcp: Array) -> Reach:
    """Return how far an arm reaches with a tool centre point ``(4, 4)`` in the flange frame."""
    at = tuple(float(v) for v in T_flange_tcp[:3, 3])
    return _reach(arm, (at[0], at[1], at[2]))


@lru_cache(maxsize=32)
def _reach(arm: Arm, tip: tuple[float, float, float]) -> Reach:
    solver, most = closed_form(arm), _all_lengths(arm, np.array(tip))
    if solver is not None:
        wrist = wrist_reach(solver)
        centre = solver.geometry.wrist_in_flange
        if solver.geometry.is_square:
            flange = wrist + float(np.linalg.norm(centre))
            return Reach(wrist, flange, wrist + float(np.linalg.norm(tip - centre)), True, most)
        return Reach(wrist, _searched(arm, np.zeros(3)), _searched(arm, np.array(tip)), False, most)
    return Reach(None, _searched(arm, np.zeros(3)), _searched(arm, np.array(tip)), False, most)


def wrist_reach(solver: ClosedForm) -> float:
    """Largest distance of the wrist's centre from axis 1, m."""
    g = solver.geometry
    first, second = g.axes[0], g.axes[1]
    side = second @ (g.to_shoulder + g.upper_arm + g.forearm)
    circle = sum(float(np.linalg.norm(np.cross(second, v))) for v in (g.upper_arm, g.forearm))
    in_plane = g.to_shoulder - (g.to_shoulder @ second) * second
    across = np.cross(first, second)
    if abs(first @ second) < 1e-9:
        return float(np.hypot(side, abs(in_plane @ across) + circle))
    # Axis 2 slanted to axis 1: the farthest place on the circle round axis 2, found on it.
    u = across / np.linalg.norm(across)
    w = np.cross(second, u)

    def away(turn: Array) -> Array:
        on_circle = circle * (np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * w)
        places = in_plane + side * second + on_circle
        return np.asarray(np.linalg.norm(np.cross(first, places), axis=1))

    best, width = 0.0, np.pi
    for _ in range(12):
        turns = best + np.linspace(-width, width, 721)
        best = float(turns[np.argmax(away(turns))])
        width /= 60
    return float(away(np.array([best]))[0])


def _all_lengths(arm: Arm, tip: Array) -> float:
    """All lengths from axis 1 to the tip, one behind the other: no posture reaches beyond, m."""
    first = 1 if arm.has_rail else 0
    total = float(np.linalg.norm(arm.ends[-1][:3, :3] @ tip + arm.ends[-1][:3, 3]))
    for index in range(first + 1, arm.dof):
        total += float(np.linalg.norm(arm.fixed[index][:3, 3]))
        if arm.prismatic[index]:
            widest = max(abs(float(arm.lower[index])), abs(float(arm.upper[index])))
            total += widest
    return total


def _searched(arm: Arm, tip: Array) -> float:
    """Largest distance from axis 1 that climbing from many postures finds, m.

    Each joint in turn is put where it carries the tip farthest, which for one joint is the
    farthest place of a circle from a line; distances only grow.
    """
    first = 1 if arm.has_rail else 0
    rng = np.random.default_rng(20240229)
    low = np.where(arm.prismatic, np.where(np.isfinite(arm.lower), arm.lower, 0.0), -np.pi)
    high = np.where(arm.prismatic, np.where(np.isfinite(arm.upper), arm.upper, 0.0), np.pi)
    q = rng.uniform(low, high, (_STARTS, arm.dof))
    q[:, : first + 1] = 0.0
    place = arm.ends[-1][:3, :3] @ tip + arm.ends[-1][:3, 3]
    turns = np.linspace(-np.pi, np.pi, 37)[:-1]

    def away(values: Array) -> Array:
        frames = axis_frames(arm.fixed, values, arm.prismatic)
        ends = (frames[:, -1, :3, :3] @ place) + frames[:, -1, :3, 3]
        z, origin = frames[:, first, :3, 2], frames[:, first, :3, 3]
        return np.asarray(np.linalg.norm(np.cross(z, ends - origin), axis=1))

    width, before = np.full(_STARTS, np.pi), away(q)
    for _ in range(_STEPS):
        for joint in range(first + 1, arm.dof):
            tries = np.repeat(q[:, None], len(turns) + 1, axis=1)
            shift = width[:, None] * turns / np.pi
            if arm.prismatic[joint]:
                shift = shift * (high[joint] - low[joint]) / (2 * np.pi)
            tries[:, 1:, joint] += shift
            if arm.prismatic[joint]:
                tries[:, :, joint] = np.clip(tries[:, :, joint], low[joint], high[joint])
            found = away(tries.reshape(-1, arm.dof)).reshape(_STARTS, -1)
            q = tries[np.arange(_STARTS), found.argmax(axis=1)]
        now = away(q)
        width = np.where(now - before < 1e-5, width / 2, width)
        before = now
        if width.max() < 1e-4:
            break
    return float(before.max())
